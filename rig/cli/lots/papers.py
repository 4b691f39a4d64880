"""`teachrig lot papers`: the report on a lot, and the complaint to its supplier where units have a defect."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rig.cli.documents import Sheet
from rig.cli.exits import Exit, GiveUp
from rig.cli.handing_out import HandedOut, hand_out, tell, where_to
from rig.cli.json_text import print_json
from rig.cli.lots.common import journal_of, lots_in, record_of
from rig.cli.recorded import enter
from rig.journal import JournalError
from rig.lot_papers import lot_papers
from rig.lots.history import History
from rig.lots.record import LotRecord


def command(options: Namespace) -> int:
    """Write or print them."""
    journal = journal_of(options)
    record = record_of(journal, options.lot)
    with lots_in(journal) as lots:
        history = lots.history(record.lot.opened.supplier, record.lot.opened.sensor_type)
    done = hand_out_papers(options, where_to(options), record, history)
    if options.json:
        print_json(done.as_dict())
    else:
        tell(done)
    return Exit.DONE if done.failure is None else Exit.BENCH_FAULT


def hand_out_papers(
    options: Namespace, folder: Path | None, record: LotRecord, history: History
) -> HandedOut:
    """Write the papers of a lot into a folder, print them, or both, and enter that in the record."""
    journal = journal_of(options)
    if folder is None and options.print is None:
        return HandedOut()
    number = record.lot.number
    try:
        papers = lot_papers(journal, record, history)
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    sheets = [Sheet(paper, stem, number, "", one_page=True) for stem, paper in papers]
    done = hand_out(sheets, folder, options.print, force=options.force)
    enter(journal, "lot report", done.made)
    return done
