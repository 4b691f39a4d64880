"""The papers of a lot, out of the record: its report, and the complaint where units have a defect."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from rig.events import CharacteristicJudged
from rig.lots.history import History
from rig.lots.record import LotRecord
from rig.lots.units import UnitFound, figure_words
from rig.papers.complaint import Evidence, bad_units, complaint
from rig.papers.lot_report import lot_report
from rig.papers.paper import Paper
from rig.records import Records, open_records
from rig.recount.recount import recount
from rig.software import software_version
from wiring.plainwords import safe_name


def lot_papers(journal: Path, record: LotRecord, history: History) -> list[tuple[str, Paper]]:
    """Each paper with the name of its files; raises JournalError."""
    with open_records(journal) as records:
        return list(_papers(records, record, history))


def _papers(records: Records, record: LotRecord, history: History) -> Iterator[tuple[str, Paper]]:
    number, made_by = record.lot.number, f"teachrig {software_version()}"
    yield f"lot-{safe_name(number)}", lot_report(record, history, made_by)
    evidence = [_evidence(records, unit, number) for unit in bad_units(record)]
    if evidence:
        yield f"complaint-{safe_name(number)}", complaint(record, evidence, made_by)


def _evidence(records: Records, unit: UnitFound, lot: str) -> Evidence:
    """What the record holds of the last try at a unit that is not sound."""
    listed = [one for one in records.attempts(unit.serial) if one.order == lot][-1]
    attempt = records.attempt(listed)
    judged = [one.event for one in attempt.account if isinstance(one.event, CharacteristicJudged)]
    rows = tuple(
        (one.characteristic, str(one.verdict), figure_words(one) or "-", one.words) for one in judged
    )
    return Evidence(unit, rows, recount(attempt).agrees, records.seal(listed))


def write_lot_papers(papers: Sequence[tuple[str, Paper]], folder: Path) -> list[Path]:
    """Write them into a folder that is there, in place of older ones; raises OSError."""
    # Only here: what it loads is much, and few lots are closed a day.
    from rig.papers.paper_html import paper_html
    from rig.papers.paper_pdf import paper_pdf

    written = []
    for stem, paper in papers:
        for suffix, content in ((".pdf", paper_pdf(paper, one_page=True)), (".html", paper_html(paper))):
            written.append(folder / f"{stem}{suffix}")
            written[-1].write_bytes(content)
    return written
