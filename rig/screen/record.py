"""What the screen asks the record: how an order stands, what was begun, what happened to one unit."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from rig.events import Event, Stamped
from rig.journal import STAMPED_COLUMNS, JournalError, reading, stamped_from
from rig.records import open_records
from rig.recount.attempt import Attempt


def recorded(
    journal: Path | None,
    kinds: Collection[type[Event]] = (),
    *,
    order: str | None = None,
    serial: str | None = None,
) -> list[Stamped]:
    """The recorded events in order; of some kinds, one order or one unit only, where these are given.

    Nothing where there is no record yet. Raises JournalError when it cannot be read.
    """
    if journal is None or not journal.is_file():
        return []
    wanted = {
        "kind": [kind.kind for kind in kinds],
        "order_number": [] if order is None else [order],
        "serial": [] if serial is None else [serial],
    }
    asked = {column: values for column, values in wanted.items() if values}
    clauses = [f"{column} IN ({','.join('?' * len(values))})" for column, values in asked.items()]
    where = f"WHERE {' AND '.join(clauses)}" if clauses else ""
    with reading(journal) as database:
        rows = database.execute(
            f"SELECT {STAMPED_COLUMNS} FROM entry {where} ORDER BY id",
            [value for values in asked.values() for value in values],
        )
        return [stamped_from(*row) for row in rows]


def last_attempt(journal: Path | None, order: str, serial: str) -> Attempt | None:
    """The last attempt at a unit of an order; None where no record can be read, or it holds none."""
    if journal is None:
        return None
    try:
        with open_records(journal) as records:
            of_order = [one for one in records.attempts(serial) if one.order == order]
            return records.attempt(of_order[-1]) if of_order else None
    except JournalError:
        return None
