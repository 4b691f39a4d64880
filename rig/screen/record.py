"""What the screen asks the record: how an order stands, what was begun, what happened to one unit."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from pathlib import Path

from rig.events import Event, OrderStarted, Purpose, Stamped
from rig.journal import JournalError, reading, stamped_from
from rig.records import open_records
from rig.recount.attempt import Attempt
from rig.store.database import SqliteDatabase
from rig.store.events import document_rows, event_rows


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


def of_like_work(events: Iterable[Stamped], purpose: Purpose, *, simulated: bool) -> Iterator[Stamped]:
    """What was recorded of work of one purpose, on a simulated bench or on a real one: neither counts for the other.

    The events of whole runs, `OrderStarted` first in each.
    """
    counts = False
    for one in events:
        if isinstance(one.event, OrderStarted):
            counts = one.event.purpose is purpose and one.event.simulated is simulated
        if counts:
            yield one


def documents_of(journal: Path | None, serial: str) -> list[Stamped]:
    """The papers that were made of a unit, for whatever order. Raises JournalError when it cannot be read."""
    if journal is None or not journal.is_file():
        return []
    with reading(journal) as database:
        return [stamped_from(*row) for row in document_rows(SqliteDatabase(database), serial)]


def decided_by_hand(journal: Path | None, order: str, serial: str) -> Stamped | None:
    """What two persons have decided of the last attempt at a unit of an order; None where nothing is on record."""
    if journal is None or not journal.is_file():
        return None
    try:
        with open_records(journal) as records:
            of_order = [one for one in records.attempts(serial) if one.order == order]
            return records.decision(of_order[-1]) if of_order else None
    except JournalError:
        return None


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
