"""`teachrig certificate`: what a unit is set to and how that was proved, on one page, from its record."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from rig.cli.documents import certificate_facts, certificate_sheet
from rig.cli.exits import Exit, narrate
from rig.cli.handing_out import HandedOut, hand_out, tell, where_to
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.recorded import enter, records_for
from rig.papers.certificate_facts import CertificateFacts, NoCertificate
from rig.session import JOURNAL_NAME
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Make the certificates; 1 if a unit got none, or one that its record does not lead to; 3 if not printed."""
    facts: list[CertificateFacts] = []
    without: dict[str, str] = {}
    journal = data_folder(options.data) / JOURNAL_NAME
    with records_for(options, journal) as (records, serials):
        for serial in serials:
            try:
                facts.append(certificate_facts(records, records.attempts(serial), options.order))
            except NoCertificate as reason:
                without[serial] = str(reason)
    done = hand_out(map(certificate_sheet, facts), where_to(options), options.print, force=options.force)
    enter(journal, "certificate", done.made)
    _tell(facts, without, done, as_json=options.json)
    if done.failure is not None:
        return Exit.BENCH_FAULT
    return Exit.NOT_ALL_GOOD if without or not all(one.agrees for one in facts) else Exit.DONE


def _tell(facts: list[CertificateFacts], without: dict[str, str], done: HandedOut, *, as_json: bool) -> None:
    for serial, why in without.items():
        narrate(f"nothing for {printable(serial)}: {why}")
    for one in facts:
        if not one.agrees:
            narrate(f"{printable(one.serial)}: the record does not lead to its verdict; the paper says so")
    if as_json:
        told = {"units": [asdict(one) for one in facts], "without": without, **done.as_dict()}
        print_json(told)
        return
    tell(done)
