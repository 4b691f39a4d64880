"""The recorded events of orders and units, found by where the store says that they stand."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from rig.store.database import Database

_COLUMNS = "e.in_run, e.at_ns, e.utc, e.order_number, e.serial, e.kind, e.body"
_ALL = f"SELECT {_COLUMNS} FROM entry e WHERE 1 = 1"
_WITHIN = (
    f"SELECT {_COLUMNS} FROM {{spans}} s JOIN entry e ON e.bench = s.bench AND e.run = s.run "
    "AND e.number >= s.first AND e.number <= s.last WHERE {given}"
)


def event_rows(
    database: Database, kinds: Collection[str] = (), *, order: str | None = None, serial: str | None = None
) -> Iterable[Sequence[Any]]:
    """Rows for `stamped_from`, in order; of some kinds, one order or one unit only, where these are given.

    Of a unit, what happened from the nest on. Without order and serial the whole account is gone through.
    """
    values: dict[str, Any] = {f"kind{index}": kind for index, kind in enumerate(kinds)}
    question = _spans(order, serial, values)
    if kinds:
        question += f" AND e.kind IN ({', '.join(f':kind{index}' for index in range(len(kinds)))})"
    return database.rows(f"{question} ORDER BY e.bench, e.number", values)


def _spans(order: str | None, serial: str | None, values: dict[str, Any]) -> str:
    if serial is not None:
        values["serial"] = serial
        question = _within("attempt", {"s.serial": ":serial", "e.serial": ":serial"})
        if order is not None:
            question += " AND s.order_number = :number"
            values["number"] = order
        return question
    if order is None:
        return _ALL
    values["number"] = order
    return _within("shop_order", {"s.number": ":number"})


def _within(spans: str, given: Mapping[str, str]) -> str:
    return _WITHIN.format(spans=spans, given=" AND ".join(f"{one} = {value}" for one, value in given.items()))


_DOCUMENTS = f"SELECT {_COLUMNS} FROM document d JOIN entry e ON e.bench = d.bench AND e.number = d.number"


def document_rows(database: Database, serial: str) -> Iterable[Sequence[Any]]:
    """Rows for `stamped_from` of the papers that were made of a unit, in order."""
    return database.rows(
        f"{_DOCUMENTS} WHERE d.serial = :serial ORDER BY e.bench, e.number", {"serial": serial}
    )
