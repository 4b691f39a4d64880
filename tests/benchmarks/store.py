"""The store: what an event costs to keep, how soon something is found, and what a unit takes on the disk.

`python -m tests.benchmarks.store --units 1000000` builds the large one (6 GB, some ten minutes) and measures on it;
`--store FILE` keeps it for another time.
"""

from __future__ import annotations

import argparse
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path

from rig.cli.documents import order_facts, report_sheet, write_sheet
from rig.events import Verdict
from rig.finding.opening import open_store
from rig.finding.units import units as units_on_page
from rig.finding.wanted import Wanted
from rig.records import open_records
from rig.store.appending import Row, append, begin_run
from rig.store.audit import audit
from rig.store.database import SqliteDatabase
from rig.store.opening import bench_of, open_to_write, reading, set_up, transaction
from tests.benchmarks.figure import Figure, Reference
from tests.benchmarks.large import CUSTOMERS, EVENTS, build, serial_of, template
from tests.benchmarks.papers import work_through

UNITS = 20_000
_REPORTED = 1000
_WANTED = Wanted(exactly={"customer": (CUSTOMERS[1],), "verdict": (str(Verdict.GOOD),)})

_COLUMNS = "in_run, at_ns, utc, order_number, serial, kind, body"
_PLAIN_TABLE = f"CREATE TABLE event (id INTEGER PRIMARY KEY, run, {_COLUMNS})"
_PLAIN_INSERT = f"INSERT INTO event (run, {_COLUMNS}) VALUES (1, ?, ?, ?, ?, ?, ?, ?)"


def measure(*, quick: bool, units: int = UNITS, kept: Path | None = None) -> Iterator[Figure]:
    """Measure on a store that is built first, or was kept."""
    count, repeats = (2000, 10) if quick else (units, 200)
    with tempfile.TemporaryDirectory(prefix="store-", dir=kept and kept.parent) as name:
        folder = Path(name)
        path = kept or folder / "journal.sqlite3"
        if not path.exists():
            build(path, count)
        beside = f"{count:,} units of {EVENTS} events"
        yield _size(path, count, beside)
        yield from _finding(path, count, repeats, beside)
        yield from _appending(path, folder, 2 * repeats, beside)
        yield _report(path, folder, 3 if quick else _REPORTED, beside)
        if quick:
            _must_hold(path)


def _size(path: Path, units: int, beside: str) -> Figure:
    size = sum(one.stat().st_size for one in path.parent.glob(f"{path.name}*"))
    told = sum(len(str(value)) for row in template(EVENTS)[1] for value in row)
    return Figure(
        "a unit on the disk", size / units, "bytes", Reference("its events as text", told), note=beside
    )


def _must_hold(path: Path) -> None:
    """What is measured on has to be a record like any other."""
    with reading(path) as database:
        broken = audit(SqliteDatabase(database)).broken
    assert broken is None, broken


# -- keeping ----------------------------------------------------------------------------------------------------------


def _appending(path: Path, folder: Path, repeats: int, beside: str) -> Iterator[Figure]:
    """Into the large store and into a bare table that begins empty; by turns, on the same disk."""
    unit = template(EVENTS)[1]
    step = next(row for row in unit if row[5] == "step-started")
    with closing(open_to_write(path)) as ours, closing(_plain(folder / "plain.sqlite3")) as plain:
        database, bench = SqliteDatabase(ours), bench_of(ours)
        with transaction(ours):
            run = begin_run(database, bench, f"measured-{time.time_ns()}", step[2])

        def keep(rows: Sequence[Row]) -> None:
            with transaction(ours):
                append(database, bench, run, rows)

        def insert(rows: Sequence[Row]) -> None:
            with transaction(plain):
                plain.executemany(_PLAIN_INSERT, rows)

        for words, parts in (
            ("one event, durable", [[step]]),
            ("the 30 events of a unit, durable five at a time, with its verdict and seal", _fives(unit)),
        ):
            mine_ms, theirs_ms = _by_turns(
                lambda p=parts: _each(keep, p), lambda p=parts: _each(insert, p), repeats
            )
            beside_it = Reference("the same rows by plain sqlite3", theirs_ms)
            yield Figure(words, mine_ms, "ms", beside_it, goal_ratio=2.0, note=beside)


def _plain(path: Path) -> sqlite3.Connection:
    database = sqlite3.connect(path, isolation_level=None)
    set_up(database)
    database.execute(_PLAIN_TABLE)
    return database


def _fives(unit: Sequence[Row]) -> list[Sequence[Row]]:
    return [unit[start : start + 5] for start in range(0, len(unit), 5)]


def _each(deed: Callable[[Sequence[Row]], None], parts: Sequence[Sequence[Row]]) -> None:
    for part in parts:
        deed(part)


def _by_turns(mine: Callable[[], None], theirs: Callable[[], None], repeats: int) -> tuple[float, float]:
    """The median of each in ms; by turns, so that a busy disk is busy for both."""
    taken: tuple[list[float], list[float]] = ([], [])
    for _ in range(repeats):
        for deed, times in zip((mine, theirs), taken, strict=True):
            times.append(_ms(deed))
    return statistics.median(taken[0]), statistics.median(taken[1])


# -- finding ----------------------------------------------------------------------------------------------------------


def _finding(path: Path, units: int, repeats: int, beside: str) -> Iterator[Figure]:
    with reading(path) as database:
        one_row = Reference("one row by its key", _median_ms(lambda: _one_row(database), repeats))
    with open_store(path) as store:
        assert len(units_on_page(store.connection, _WANTED, 50).rows) == 50
        page_ms = _median_ms(lambda: units_on_page(store.connection, _WANTED, 50), repeats)
    with open_records(path) as records:
        serials = [serial_of(index * units // repeats) for index in range(repeats)]
        taken = [_ms(lambda s=serial: records.attempt(records.attempts(s)[0])) for serial in serials]
    yield Figure(
        "a serial found, with all its events",
        statistics.median(taken),
        "ms",
        one_row,
        goal=10.0,
        note=f"median of {repeats}, the worst took {max(taken):.1f} ms; {beside}",
    )
    yield Figure("a page of 50 of one customer's good units", page_ms, "ms", one_row, goal=100.0, note=beside)


def _report(path: Path, folder: Path, units: int, beside: str) -> Figure:
    """Of an order that is really worked through into that store, from the record to PDF and HTML."""
    number = work_through("tipper-point-no", units, path)
    begin_s = time.perf_counter()
    with open_records(path) as records:
        sheet = report_sheet(order_facts(records, number))
        write_sheet(sheet, sheet.pdf(), folder / "papers", force=True)
    taken_s = time.perf_counter() - begin_s
    with open_records(path) as records:
        read_s = _ms(lambda: order_facts(records, number)) / 1000
    words = f"{units:,} units reported, beside {beside}"
    return Figure(
        "the report on an order, record to PDF and HTML",
        taken_s,
        "s",
        Reference("of that, reading the record and counting", read_s),
        goal=3.0,
        note=words,
    )


def _one_row(database: sqlite3.Connection) -> None:
    database.execute("SELECT * FROM entry WHERE bench = 1 AND number = 1000").fetchone()


def _median_ms(deed: Callable[[], object], repeats: int) -> float:
    return statistics.median(_ms(deed) for _ in range(repeats))


def _ms(deed: Callable[[], object]) -> float:
    begin_s = time.perf_counter()
    deed()
    return 1000 * (time.perf_counter() - begin_s)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--units", type=int, default=UNITS)
    parser.add_argument(
        "--store", type=Path, metavar="FILE", help="keep the store there, and measure on it another time"
    )
    options = parser.parse_args()
    for figure in measure(quick=False, units=options.units, kept=options.store):
        print(
            f"{figure.name}: {figure.value:.3g} {figure.unit}, ratio {figure.ratio:.3g}, {figure.met}, {figure.note}",
            flush=True,
        )
