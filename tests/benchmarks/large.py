"""A store of many units, built through what a bench writes with: the same entries, projection and seals.

Every unit has the events of one that was really worked through, under a serial, day and verdict of its own; four
customers, three sensor types, and one unit in sixteen that is not good, for all reasons there are.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import closing
from functools import cache
from pathlib import Path

from rig.journal import _AS_JSON
from rig.sequencer.findings import Reason
from rig.store.appending import Row, append, begin_run
from rig.store.database import SqliteDatabase
from rig.store.opening import bench_of, open_to_write, transaction
from tests.rig.sequencer.floor import SETTINGS, work_through

EVENTS = 30
CUSTOMERS = ("Quillmere Orchard Co-op", "Ottermoor Cold Store", "Sallow Bank Packers", "Fenwick Cider Works")
TYPES = ("barrel-12-count", "barrel-18-rail", "barrel-30-length")
REASONS = tuple(reason for reason in Reason if reason is not Reason.PROVEN)
ORDER_UNITS = 1000
_NOT_GOOD = 16


def build(path: Path, units: int, *, events: int = EVENTS, order_units: int = ORDER_UNITS) -> None:
    """Build it: so many units of so many events each. The disk is waited for only once, at the end."""
    opening, unit = template(events)
    with closing(open_to_write(path)) as connection:
        database, bench = SqliteDatabase(connection), bench_of(connection)
        connection.execute("PRAGMA synchronous = OFF")
        for first in range(0, units, order_units):
            end = min(first + order_units, units)
            with transaction(connection):
                run = begin_run(database, bench, f"run-{first // order_units}", utc_of(first))
                append(database, bench, run, list(_order(first, end, order_units, opening, unit)))
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


@cache
def template(events: int) -> tuple[tuple[Row, ...], tuple[Row, ...]]:
    """What begins an order, and a unit's events: as many of a real one's as are asked for, its end among them."""
    shift = work_through(SETTINGS["18 point"])
    rows = [
        (one.number, one.at_ns, one.utc, one.order, one.serial, one.event.kind, _AS_JSON(one.body()))
        for one in shift.events
    ]
    unit = [row for row in rows if row[4]]
    begin = next(index for index, row in enumerate(unit) if row[5] == "unit-started")
    end = [row for row in unit if row[5] in ("unit-judged", "unit-removed")][: events - 1]
    opening = [row for row in rows if row[5] in ("order-started", "order-inputs")]
    return tuple(opening), (*unit[begin : begin + events - len(end)], *end)


def _order(
    first: int, end: int, order_units: int, opening: Sequence[Row], unit: Sequence[Row]
) -> Iterator[Row]:
    number = first // order_units
    order, in_run = order_of(number), 0
    for _, at_ns, _, _, _, kind, body in opening:
        in_run += 1
        yield in_run, at_ns, utc_of(first), order, "", kind, _begun(kind, body, number, end - first)
    for index in range(first, end):
        utc, serial = utc_of(index), serial_of(index)
        for _, at_ns, _, _, _, kind, body in unit:
            in_run += 1
            yield in_run, at_ns, utc, order, serial, kind, _judged(index) if kind == "unit-judged" else body
    ended = json.dumps({"order": order, "good": end - first, "bad": 0, "undecided": 0, "left": 0})
    yield in_run + 1, 0, utc_of(end - 1), order, "", "order-ended", ended


def _begun(kind: str, body: str, number: int, quantity: int) -> str:
    told = json.loads(body)
    if kind == "order-started":
        told |= {
            "order": order_of(number),
            "customer": CUSTOMERS[number % len(CUSTOMERS)],
            "sensor_type": TYPES[number % len(TYPES)],
            "quantity": quantity,
        }
    return json.dumps(told, separators=(",", ":"))


def _judged(index: int) -> str:
    verdict, reason = "good", Reason.PROVEN
    if index % _NOT_GOOD == 0:
        verdict = ("bad", "undecided")[index % 3 == 0]
        reason = REASONS[index // _NOT_GOOD % len(REASONS)]
    words = "6 check positions read, all right"
    return json.dumps({"verdict": verdict, "reason": str(reason), "words": words}, separators=(",", ":"))


def order_of(number: int) -> str:
    """The number of an order, by which one it is."""
    return f"QOC-{number:05}"


def serial_of(index: int) -> str:
    """The serial of a unit, by which one it is."""
    return f"QOC18-{index:07}"


def utc_of(index: int) -> str:
    """One unit every 24 seconds of a working day of seven and a half hours, 28 days a month, from 2023 on."""
    day, moment = divmod(index, 1125)
    month, second = day // 28, 7 * 3600 + 24 * moment
    date = f"{2023 + month // 12}-{1 + month % 12:02}-{1 + day % 28:02}"
    return f"{date}T{second // 3600:02}:{second // 60 % 60:02}:{second % 60:02}.000Z"
