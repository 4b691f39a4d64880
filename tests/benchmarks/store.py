"""The store: what an event costs to keep, how soon something is found, and what a unit takes on the disk.

`python -m tests.benchmarks.store --units 1000000` builds the large one (about 6 GB, an hour on a small computer).
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

from rig.events import CheckDone, ContactEnded, OutputRead, UnitJudged, Verdict
from rig.finding.opening import open_store
from rig.finding.units import units as units_on_page
from rig.finding.wanted import Wanted
from rig.journal import _AS_JSON
from rig.records import open_records
from rig.store.appending import Row, append, begin_run
from rig.store.database import SqliteDatabase
from rig.store.opening import bench_of, open_to_write, reading, set_up, transaction
from tests.benchmarks.figure import Figure, Reference
from tests.rig.sequencer.floor import SETTINGS, work_through

UNITS = 20_000
EVENTS = 30
_ORDER_UNITS = 1000
_CUSTOMERS = ("Quillmere Orchard Co-op", "Ottermoor Cold Store", "Sallow Bank Packers", "Fenwick Cider Works")

_COLUMNS = "in_run, at_ns, utc, order_number, serial, kind, body"
_PLAIN_TABLE = f"CREATE TABLE event (id INTEGER PRIMARY KEY, run, {_COLUMNS})"
_PLAIN_INSERT = f"INSERT INTO event (run, {_COLUMNS}) VALUES (1, ?, ?, ?, ?, ?, ?, ?)"
_WANTED = Wanted(exactly={"customer": (_CUSTOMERS[1],), "verdict": (str(Verdict.GOOD),)})


def measure(*, quick: bool, units: int = UNITS) -> Iterator[Figure]:
    """Measure on a store that is built first."""
    opening, unit = _template()
    with tempfile.TemporaryDirectory(prefix="store-") as name:
        folder = Path(name)
        yield from _appending(folder, unit, 30 if quick else 400)
        count = 2 * _ORDER_UNITS if quick else units
        yield from _finding(folder / "journal.sqlite3", opening, unit, count, 10 if quick else 200)


def _template() -> tuple[list[Row], list[Row]]:
    """What begins an order, and a real unit's events, as many as are asked for."""
    shift = work_through(SETTINGS["18 point"])
    rows = [
        (one.number, one.at_ns, one.utc, one.order, one.serial, one.event.kind, _AS_JSON(one.body()))
        for one in shift.events
    ]
    unit = [row for row in rows if row[4] == "QOC-1"]
    begin = next(index for index, row in enumerate(unit) if row[5] == "unit-started")
    end = [row for row in unit if row[5] in ("unit-judged", "unit-removed")]
    return [row for row in rows if row[4] == ""][:2], [*unit[begin : begin + EVENTS - len(end)], *end]


# -- keeping ----------------------------------------------------------------------------------------------------------


def _appending(folder: Path, unit: Sequence[Row], repeats: int) -> Iterator[Figure]:
    step = next(row for row in unit if row[5] == "step-started")
    with (
        closing(open_to_write(folder / "ours.sqlite3")) as ours,
        closing(_plain(folder / "plain.sqlite3")) as plain,
    ):
        database, bench = SqliteDatabase(ours), bench_of(ours)
        with transaction(ours):
            run = begin_run(database, bench, "measured", "2026-01-05T07:00:00.000Z")

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
            yield Figure(
                words, mine_ms, "ms", Reference("the same rows by plain sqlite3", theirs_ms), goal_ratio=2.0
            )


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
            begin_s = time.perf_counter()
            deed()
            times.append(1000 * (time.perf_counter() - begin_s))
    return statistics.median(taken[0]), statistics.median(taken[1])


# -- finding ----------------------------------------------------------------------------------------------------------


def _finding(
    path: Path, opening: Sequence[Row], unit: Sequence[Row], units: int, repeats: int
) -> Iterator[Figure]:
    build(path, opening, unit, units)
    size = sum(one.stat().st_size for one in path.parent.glob(f"{path.name}*"))
    told = sum(len(str(value)) for row in unit for value in row)
    beside = f"{units:,} units of {EVENTS} events"
    yield Figure(
        "a unit on the disk", size / units, "bytes", Reference("its events as text", told), note=beside
    )
    with reading(path) as database:
        one_row = Reference("one row by its key", _median_ms(lambda: _one_row(database), repeats))
    with open_store(path) as store:
        assert len(units_on_page(store.connection, _WANTED, 50).rows) == 50
        page_ms = _median_ms(lambda: units_on_page(store.connection, _WANTED, 50), repeats)
    with open_records(path) as records:
        serials = [_serial(index * units // repeats) for index in range(repeats)]
        taken = [_ms(lambda s=serial: records.attempt(records.attempts(s)[0])) for serial in serials]
        report_ms = _ms(
            lambda: list(records.of_order("QOC-1", OutputRead, ContactEnded, CheckDone, UnitJudged))
        )
    yield Figure(
        "a serial found, with all its events",
        statistics.median(taken),
        "ms",
        one_row,
        goal=10.0,
        note=f"median of {repeats}, the worst took {max(taken):.1f} ms; {beside}",
    )
    yield Figure("a page of 50 of one customer's good units", page_ms, "ms", one_row, goal=100.0, note=beside)
    yield Figure(
        "the readings of an order of 1,000 units", report_ms, "ms", one_row, goal=3000.0, note=beside
    )


def build(path: Path, opening: Sequence[Row], unit: Sequence[Row], units: int) -> None:
    """A store of so many units, in orders of a thousand, through what a bench writes with."""
    with closing(open_to_write(path)) as connection:
        database, bench = SqliteDatabase(connection), bench_of(connection)
        connection.execute("PRAGMA synchronous = OFF")
        for order, first in enumerate(range(0, units, _ORDER_UNITS), 1):
            with transaction(connection):
                run = begin_run(database, bench, f"run-{order}", "2026-01-05T07:00:00.000Z")
                append(database, bench, run, list(_order_rows(order, opening)))
                for index in range(first, min(first + _ORDER_UNITS, units)):
                    append(database, bench, run, _unit_rows(order, index, unit))
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _order_rows(order: int, opening: Sequence[Row]) -> Iterator[Row]:
    customer = _CUSTOMERS[order % len(_CUSTOMERS)]
    for in_run, at_ns, utc, number, serial, kind, body in opening:
        said = body.replace(number, f"QOC-{order}").replace(_CUSTOMERS[0], customer)
        yield in_run, at_ns, utc, f"QOC-{order}", serial, kind, said


def _unit_rows(order: int, index: int, unit: Sequence[Row]) -> list[Row]:
    day, serial = f"2026-{1 + index // 40_000 % 12:02}-{1 + index // 1500 % 28:02}", _serial(index)
    return [
        (in_run, at_ns, f"{day}{utc[10:]}", f"QOC-{order}", serial, kind, body)
        for in_run, at_ns, utc, _, _, kind, body in unit
    ]


def _serial(index: int) -> str:
    return f"QOC18-{index:07}"


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
    for figure in measure(quick=False, units=parser.parse_args().units):
        print(
            f"{figure.name}: {figure.value:.3g} {figure.unit}, ratio {figure.ratio:.3g}, {figure.met}, {figure.note}"
        )
