"""`teachrig report`: what became of an order, from its record."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict
from pathlib import Path

from rig.cli.documents import order_facts, write_report
from rig.cli.exits import Exit, GiveUp
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.recorded import Made, enter, opened
from rig.papers.report_facts import NoReport
from rig.session import JOURNAL_NAME
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Write the report; whatever it says of the order, it is done once it is written."""
    journal = data_folder(options.data) / JOURNAL_NAME
    with opened(journal) as records:
        try:
            facts = order_facts(records, options.order)
        except NoReport as reason:
            raise GiveUp(Exit.BAD_INPUT, f"{printable(str(journal))}: {printable(str(reason))}") from None
    files: tuple[Path, ...] = ()
    if options.out is not None or not options.json:
        files = write_report(facts, options.out or Path(), force=options.force)
        made = (Made(facts.order, "", file.read_bytes(), str(file.absolute())) for file in files)
        enter(journal, "order report", made)
    if options.json:
        told = asdict(facts) | {"files": [str(file) for file in files]}
        print_json(told)
        return Exit.DONE
    for file in files:
        print(printable(str(file)))
    return Exit.DONE
