"""What the screen asks the record: how an order stands, what was begun, what happened to one unit."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from rig.events import Event, Stamped
from rig.journal import reading, stamped_from
from rig.store.database import SqliteDatabase
from rig.store.events import event_rows


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
    with reading(journal) as database:
        wanted = event_rows(SqliteDatabase(database), [one.kind for one in kinds], order=order, serial=serial)
        return [stamped_from(*row) for row in wanted]
