"""Finding: what a page of units costs, whatever is asked for, beside one row by its key; in processor time.

All that is asked for lies in memory after the first time, so on a quiet machine that is also how long one waits.

`python -m tests.benchmarks.finding --units 1000000` asks a store of a million. Of each unit only begin and verdict are
written: lists and counts look at nothing else, and the store is built ten times sooner than a whole one.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from sqlalchemy import text

from rig.events import Purpose, Verdict
from rig.finding.counted import Grouping, counted
from rig.finding.opening import Store, open_store
from rig.finding.orders import orders
from rig.finding.units import Place, units
from rig.finding.wanted import Asked, Wanted, resolved
from tests.benchmarks.figure import Figure, Reference
from tests.benchmarks.large import CUSTOMERS, REASONS, build, serial_of, utc_of

UNITS = 20_000
_ORDER_UNITS = 100
_PAGE = 50


def measure(*, quick: bool, units: int = UNITS, kept: Path | None = None) -> Iterator[Figure]:
    """Measure on a store that is built first."""
    count = 1000 if quick else units
    with tempfile.TemporaryDirectory(prefix="finding-") as name:
        path = kept or Path(name) / "journal.sqlite3"
        if not path.exists():
            build(path, count, events=2, order_units=_ORDER_UNITS)
        with open_store(path) as store:
            yield from _figures(store, count, 3 if quick else 30)


def _figures(store: Store, count: int, repeats: int) -> Iterator[Figure]:
    key = text("SELECT * FROM entry WHERE bench = 1 AND number = 1000")
    one_row = Reference(
        "one row by its key", _median_ms(lambda: store.connection.execute(key).all(), 100 * repeats)
    )
    beside = f"{count:,} units"
    serials = [serial_of(index * count // repeats) for index in range(repeats)]
    found_ms = [_ms(lambda s=serial: _page(store, Asked(serial=s))) for serial in serials]
    yield Figure(
        "a unit by its serial, as a list shows it",
        statistics.median(found_ms),
        "ms",
        one_row,
        10.0,
        note=beside,
    )
    middle = Place(utc_of(count // 2), 1, 0)
    for words, asked, after in (
        ("newest first", Asked(), None),
        ("newest first, from the middle on", Asked(), middle),
        ("part of a serial, few have it", Asked(serial=serial_of(count // 3)[-5:]), None),
        ("part of a serial, all have it", Asked(serial="oc18-"), None),
        ("one customer's bad units", Asked(customer=CUSTOMERS[1], verdict=Verdict.BAD), None),
        (
            "a rare reason in one month",
            Asked(reason=str(REASONS[7]), since="2024-03", until="2024-03"),
            None,
        ),
        (
            "one type and a reason, part of an order",
            Asked(sensor_type="30", reason=str(REASONS[3]), order="QOC-0000"),
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
