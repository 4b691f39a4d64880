"""What the screen asks the record: how an order stands, what was begun, what happened to one unit."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from rig.events import Event, Stamped
from rig.journal import STAMPED_COLUMNS, reading, stamped_from


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
