"""`teachrig lot papers`: the report on a lot, and the complaint to its supplier where units have a defect."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

from rig.cli.documents import Sheet, made_by
from rig.cli.exits import Exit
from rig.cli.handing_out import HandedOut, hand_out, tell, where_to
from rig.cli.json_text import print_json
from rig.cli.lots.common import journal_of, lots_in, record_of
from rig.cli.recorded import enter, opened
from rig.events import CharacteristicJudged
from rig.lots.history import History
from rig.lots.record import LotRecord
from rig.lots.units import UnitFound
from rig.papers.complaint import Evidence, bad_units, complaint
from rig.papers.lot_report import lot_report
from rig.records import Records
from rig.recount.recount import recount
from wiring.plainwords import safe_name


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
    with opened(journal) as records:
        sheets = list(_sheets(records, record, history))
    done = hand_out(sheets, folder, options.print, force=options.force)
    enter(journal, "lot report", done.made)
    return done


def _sheets(records: Records, record: LotRecord, history: History) -> Iterator[Sheet]:
    number = record.lot.number
    yield Sheet(lot_report(record, history, made_by()), f"lot-{safe_name(number)}", number, "", one_page=True)
    evidence = [evidence_of(records, unit, number) for unit in bad_units(record)]
    if evidence:
        paper = complaint(record, evidence, made_by())
        yield Sheet(paper, f"complaint-{safe_name(number)}", number, "")


def evidence_of(records: Records, unit: UnitFound, lot: str) -> Evidence:
    """What the record holds of the last try at a unit that is not sound."""
    listed = [one for one in records.attempts(unit.serial) if one.order == lot][-1]
    attempt = records.attempt(listed)
    judged = [one.event for one in attempt.account if isinstance(one.event, CharacteristicJudged)]
    rows = tuple((one.characteristic, str(one.verdict), _measured(one), one.words) for one in judged)
    return Evidence(unit, rows, recount(attempt).agrees, records.seal(listed))


def _measured(one: CharacteristicJudged) -> str:
    if one.value is None:
        return "-"
    limits = f", allowed {one.low:g} to {one.high:g}" if one.low is not None and one.high is not None else ""
    return f"{one.value:.4g} {one.unit}{limits}"
