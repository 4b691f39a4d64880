"""Papers: the report on an order of 1,000 units, from the record to both files, and certificates, by processor time."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable, Iterator
from io import BytesIO
from pathlib import Path
from typing import TypeVar

from reportlab.pdfgen.canvas import Canvas

from hal.simulated.benchfile import BenchFile, UnitRow
from rig.cli.documents import Sheet, certificate_facts, certificate_sheet, report_sheet, write_sheet
from rig.jobs import job_of
from rig.library import Library
from rig.papers.fonts import REGULAR, register_fonts
from rig.papers.report_facts import report_of
from rig.papers.tries import NEEDED
from rig.planning.compile import make_plan
from rig.records import Records, open_records
from rig.session import JOURNAL_NAME, Session
from tests.benchmarks.figure import Figure, Reference

_T = TypeVar("_T")
_UNITS, _MEASURED = 1000, 50


def measure(*, quick: bool) -> Iterator[Figure]:
    """Work through an order read at positions and one that is measured; then make their papers."""
    units, measured = (3, 1) if quick else (_UNITS, _MEASURED)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for order, count in (("tipper-point-no", units), ("spares-window-measured", measured)):
            work_through(order, count, folder / JOURNAL_NAME)
        with open_records(folder / JOURNAL_NAME) as records:
            yield from _reports(records, folder, units, measured)
            yield _certificate(records, folder)


def work_through(name: str, units: int, journal: Path) -> str:
    """Do a shipped order of so many sound units on the simulated bench; returns its number."""
    library = Library(None)
    order, sensor_type = library.read_order(name)
    order = order.model_copy(update={"quantity": units})
    profile = library.read_rig("simulated")
    job = job_of(order, sensor_type, profile, make_plan(order, sensor_type, profile))
    bench = BenchFile(title="sound", unit=(UnitRow(count=units),)).as_ordered(
        sensor_type.name, order.setting.output_type
    )
    Session(job, profile, bench, False, journal).start(lambda _: None).result()
    return order.number


def _reports(records: Records, folder: Path, units: int, measured: int) -> Iterator[Figure]:
    for number, count in (("QOC-0101", units), ("QOC-0118", measured)):
        read_s, facts = _timed(lambda: report_of(number, records.of_order(number, *NEEDED)))  # noqa: B023
        written_s, _ = _timed(lambda: _write(report_sheet(facts), folder))  # noqa: B023
        note = f"{read_s:.2f} s of that to read the record and count"
        what = "measured" if number == "QOC-0118" else "read at positions"
        yield Figure(
            f"report on {count} units, {what}: record to PDF and HTML",
            read_s + written_s,
            "s",
            _bare(count),
            goal=3.0 if count == _UNITS else None,
            note=note,
        )


def _certificate(records: Records, folder: Path) -> Figure:
    attempts = records.attempts("QOC18-0140")
    facts_s, facts = _timed(lambda: certificate_facts(records, attempts, None))
    written_s, _ = _timed(lambda: _write(certificate_sheet(facts), folder))
    return Figure(
        "certificate of a measured unit: record to PDF and HTML",
        facts_s + written_s,
        "s",
        _bare(1),
        note=f"{facts_s:.2f} s of that to work the verdict out again",
    )


def _write(sheet: Sheet, folder: Path) -> None:
    write_sheet(sheet, sheet.pdf(), folder, force=True)


def _bare(units: int) -> Reference:
    """What reportlab takes for so many lines of letters in the same font, and nothing else."""
    return Reference(f"reportlab: {units} bare lines", _timed(lambda: _lines(units))[0])


def _lines(units: int) -> None:
    register_fonts()
    canvas = Canvas(BytesIO())
    for line in range(units):
        canvas.setFont(REGULAR, 8.5)
        canvas.drawString(30, 800 - 12 * (line % 60), f"QOC18-{line:04d} " * 8)
        if line % 60 == 59:
            canvas.showPage()
    canvas.save()


def _timed(action: Callable[[], _T]) -> tuple[float, _T]:
    start_s = time.process_time()
    result = action()
    return time.process_time() - start_s, result
