"""`teachrig report`: what became of an order, from its record."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from rig.cli.documents import order_facts, report_sheet
from rig.cli.exits import Exit, GiveUp
from rig.cli.handing_out import hand_out, tell, where_to
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.recorded import enter, opened
from rig.papers.report_facts import NoReport
from rig.session import JOURNAL_NAME
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Write or print the report; whatever it says of the order, it is done once it is made; 3 if not printed."""
    journal = data_folder(options.data) / JOURNAL_NAME
    with opened(journal) as records:
        try:
            facts = order_facts(records, options.order)
        except NoReport as reason:
            raise GiveUp(Exit.BAD_INPUT, f"{printable(str(journal))}: {printable(str(reason))}") from None
    done = hand_out([report_sheet(facts)], where_to(options), options.print, force=options.force)
    enter(journal, "order report", done.made)
    if options.json:
        print_json(asdict(facts) | done.as_dict())
    else:
        tell(done)
    return Exit.DONE if done.failure is None else Exit.BENCH_FAULT
