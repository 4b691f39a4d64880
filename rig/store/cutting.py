"""What was in work when the program ended without being asked to: noted at the next start, by whoever is alone then."""

from __future__ import annotations

import json
from collections.abc import Iterator

from rig.events import WorkCutOff
from rig.moments import utc_now
from rig.store.appending import Row, append
from rig.store.database import Database, first_row

_CUT_ORDERS = (
    "SELECT o.run, o.number, e.in_run, e.at_ns FROM shop_order o "
    "JOIN entry e ON e.bench = o.bench AND e.number = (SELECT l.number FROM entry l WHERE l.bench = o.bench "
    "AND l.run = o.run ORDER BY l.number DESC LIMIT 1) "
    "WHERE o.bench = :bench AND o.ended_utc IS NULL ORDER BY o.run"
)
_IN_WORK = "SELECT serial FROM attempt WHERE run = :run AND verdict = '' ORDER BY first DESC LIMIT 1"
_WHY = "supply lost, stopped or crashed"
_UNIT_WORDS = f"the program ended in the middle of this unit ({_WHY}); set it again from the start"
_ORDER_WORDS = f"the program ended before the order did ({_WHY})"


def note_cut_off(database: Database, bench: int) -> None:
    """Close what earlier runs of a bench left open, each in its own run, in the transaction of the caller."""
    utc = utc_now()
    for run, order, in_run, at_ns in list(database.rows(_CUT_ORDERS, {"bench": bench})):
        unit = first_row(database, _IN_WORK, {"run": run})
        serial = None if unit is None else str(unit[0])
        append(database, bench, run, list(_rows(in_run, at_ns, utc, order, serial)))


def _rows(in_run: int, at_ns: int, utc: str, order: str, serial: str | None) -> Iterator[Row]:
    if serial is not None:
        in_run += 1
        yield in_run, at_ns, utc, order, serial, WorkCutOff.kind, json.dumps({"words": _UNIT_WORDS})
    yield in_run + 1, at_ns, utc, order, "", WorkCutOff.kind, json.dumps({"words": _ORDER_WORDS})
