"""`teachrig certificate`: what a unit is set to and how that was proved, on one page, from its record."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict
from pathlib import Path

from rig.cli.documents import certificate_facts, write_certificate
from rig.cli.exits import Exit, narrate
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.recorded import Made, enter, records_for
from rig.papers.certificate_facts import CertificateFacts, NoCertificate
from rig.session import JOURNAL_NAME
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Write the certificates; 1 if a unit got none, or one that its record does not lead to."""
    facts: list[CertificateFacts] = []
    without: dict[str, str] = {}
    journal = data_folder(options.data) / JOURNAL_NAME
    with records_for(options, journal) as (records, serials):
        for serial in serials:
            try:
                facts.append(certificate_facts(records, records.attempts(serial), options.order))
            except NoCertificate as reason:
                without[serial] = str(reason)
    files: list[Path] = []
    made: list[Made] = []
    if options.out is not None or not options.json:
        for one in facts:
            files += (written := write_certificate(one, options.out or Path(), force=options.force))
            made += (
                Made(one.setting.order, one.serial, file.read_bytes(), str(file.absolute()))
                for file in written
            )
    enter(journal, "certificate", made)
    _tell(facts, without, files, as_json=options.json)
    return Exit.NOT_ALL_GOOD if without or not all(one.agrees for one in facts) else Exit.DONE


def _tell(
    facts: list[CertificateFacts], without: dict[str, str], files: list[Path], *, as_json: bool
) -> None:
    for serial, why in without.items():
        narrate(f"nothing for {printable(serial)}: {why}")
    for one in facts:
        if not one.agrees:
            narrate(f"{printable(one.serial)}: the record does not lead to its verdict; the paper says so")
    if as_json:
        told = {
            "units": [asdict(one) for one in facts],
            "without": without,
            "files": [str(file) for file in files],
        }
        print_json(told)
        return
    for file in files:
        print(printable(str(file)))
