"""Finding: what a page of units costs, whatever is asked for, beside one row by its key; in processor time.

All that is asked for lies in memory after the first time, so on a quiet machine that is also how long one waits.

`python -m tests.benchmarks.finding --units 1000000` asks a store of a million. Of each unit only begin and verdict are
written: lists and counts look at nothing else, and the store is built ten times sooner than a whole one.
"""

from __future__ import annotations

import argparse
import json
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

from sqlalchemy import text

from rig.events import Purpose, Verdict
from rig.finding.counted import Grouping, counted
from rig.finding.opening import Store, open_store
from rig.finding.orders import orders
from rig.finding.units import Place, units
from rig.finding.wanted import Asked, Wanted, resolved
from rig.sequencer.findings import Reason
from rig.store.appending import Row, append, begin_run
from rig.store.database import SqliteDatabase
from rig.store.opening import bench_of, open_to_write, transaction
from tests.benchmarks.figure import Figure, Reference

UNITS = 20_000
_ORDER_UNITS = 100
_PAGE = 50
_CUSTOMERS = ("Quillmere Orchard Co-op", "Ottermoor Cold Store", "Sallow Bank Packers", "Fenwick Cider Works")
_TYPES = ("barrel-12-count", "barrel-18-rail", "barrel-30-length")
_REASONS = tuple(reason for reason in Reason if reason is not Reason.PROVEN)
# One unit in sixteen is not good.
_NOT_GOOD = 16


def measure(*, quick: bool, units: int = UNITS, kept: Path | None = None) -> Iterator[Figure]:
    """Measure on a store that is built first."""
    count = 1000 if quick else units
    with tempfile.TemporaryDirectory(prefix="finding-") as name:
        path = kept or Path(name) / "journal.sqlite3"
        if not path.exists():
            build(path, count)
        with open_store(path) as store:
            yield from _figures(store, count, 3 if quick else 30)


def _figures(store: Store, count: int, repeats: int) -> Iterator[Figure]:
    key = text("SELECT * FROM entry WHERE bench = 1 AND number = 1000")
    one_row = Reference(
        "one row by its key", _median_ms(lambda: store.connection.execute(key).all(), 100 * repeats)
    )
    beside = f"{count:,} units"
    serials = [_serial(index * count // repeats) for index in range(repeats)]
    found_ms = [_ms(lambda s=serial: _page(store, Asked(serial=s))) for serial in serials]
    yield Figure(
        "a unit by its serial, as a list shows it",
        statistics.median(found_ms),
        "ms",
        one_row,
        10.0,
        note=beside,
    )
    middle = Place(_utc(count // 2), 1, 0)
    for words, asked, after in (
        ("newest first", Asked(), None),
        ("newest first, from the middle on", Asked(), middle),
        ("part of a serial, few have it", Asked(serial=_serial(count // 3)[-5:]), None),
        ("part of a serial, all have it", Asked(serial="oc18-"), None),
        ("one customer's bad units", Asked(customer=_CUSTOMERS[1], verdict=Verdict.BAD), None),
        (
            "a rare reason in one month",
            Asked(reason=str(_REASONS[7]), since="2024-03", until="2024-03"),
            None,
        ),
        (
            "one type and a reason, part of an order",
            Asked(sensor_type="30", reason=str(_REASONS[3]), order="QOC-0000"),
            None,
        ),
        ("units that nobody has", Asked(verdict=Verdict.UNDECIDED, purpose=Purpose.VERIFY), None),
    ):
        taken_ms = _median_ms(lambda a=asked, p=after: _page(store, a, p), repeats)
        yield Figure(f"a page of {_PAGE}: {words}", taken_ms, "ms", one_row, goal=100.0, note=beside)
    orders_ms = _median_ms(lambda: orders(store.connection, Wanted(), 20), repeats)
    yield Figure("a page of 20 orders with their yields", orders_ms, "ms", one_row, note=beside)
    counted_ms = _ms(lambda: counted(store.connection, Wanted(), Grouping.TYPE))
    yield Figure("every unit counted, by type", counted_ms, "ms", one_row, note=beside)


def _median_ms(deed: Callable[[], object], repeats: int) -> float:
    return statistics.median(_ms(deed) for _ in range(repeats))


def _ms(deed: Callable[[], object]) -> float:
    begin_s = time.process_time()
    deed()
    return 1000 * (time.process_time() - begin_s)


def _page(store: Store, asked: Asked, after: Place | None = None) -> None:
    units(store.connection, resolved(store.connection, asked), _PAGE, after)


def build(path: Path, count: int) -> None:
    """A store of so many units in orders of a hundred, eleven hundred a day, through what a bench writes with."""
    with closing(open_to_write(path)) as connection:
        database, bench = SqliteDatabase(connection), bench_of(connection)
        connection.execute("PRAGMA synchronous = OFF")
        for first in range(0, count, _ORDER_UNITS):
            with transaction(connection):
                run = begin_run(database, bench, f"run-{first}", _utc(first))
                append(database, bench, run, _order(first, min(first + _ORDER_UNITS, count)))
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _order(first: int, end: int) -> list[Row]:
    number = first // _ORDER_UNITS
    order, at_utc = f"QOC-{number:05}", _utc(first)
    started = {
        "order": order,
        "customer": _CUSTOMERS[number % len(_CUSTOMERS)],
        "purpose": "set",
        "sensor_type": _TYPES[number % len(_TYPES)],
        "quantity": end - first,
        "rig": "single-nest",
        "simulated": False,
        "software": "0.1.0",
    }
    rows = [_row(at_utc, order, "", "order-started", started)]
    for index in range(first, end):
        verdict, reason = _found(index)
        judged = {"verdict": verdict, "reason": reason, "words": "as it was read"}
        begun = {"nest": "A", "index": index - first}
        rows.append(_row(_utc(index), order, _serial(index), "unit-started", begun))
        rows.append(
            _row(_utc(index), order, _serial(index), "unit-judged", judged, at_s=20 + index % 90 / 10)
        )
    ended = {"order": order, "good": 0, "bad": 0, "undecided": 0, "left": 0}
    rows.append(_row(at_utc, order, "", "order-ended", ended))
    return [(number, *row) for number, row in enumerate(rows, 1)]


def _row(
    utc: str, order: str, serial: str, kind: str, body: dict[str, object], at_s: float = 0.0
) -> tuple[int, str, str, str, str, str]:
    return round(at_s * 1e9), utc, order, serial, kind, json.dumps(body, separators=(",", ":"))


def _found(index: int) -> tuple[str, str]:
    if index % _NOT_GOOD:
        return "good", str(Reason.PROVEN)
    return ("bad", "undecided")[index % 3 == 0], str(_REASONS[index // _NOT_GOOD % len(_REASONS)])


def _serial(index: int) -> str:
    return f"QOC18-{index:07}"


def _utc(index: int) -> str:
    """One unit every 24 seconds of a working day of seven and a half hours, 28 days a month, from 2023 on."""
    day, moment = divmod(index, 1125)
    month, second = day // 28, 7 * 3600 + 24 * moment
    date = f"{2023 + month // 12}-{1 + month % 12:02}-{1 + day % 28:02}"
    return f"{date}T{second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}.000Z"


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--units", type=int, default=UNITS)
    parser.add_argument(
        "--store", type=Path, metavar="FILE", help="keep the store there, and ask it again another time"
    )
    options = parser.parse_args()
    for figure in measure(quick=False, units=options.units, kept=options.store):
        goal = {True: "met", False: "NOT MET", None: ""}[figure.met]
        print(f"{figure.name}: {figure.value:.3g} {figure.unit}  {goal}  ({figure.note})", flush=True)
