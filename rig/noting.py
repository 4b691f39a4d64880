"""Enters something into the record outside of a run, such as a decision by hand or a paper that was made."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

from rig.events import Event, Stamped
from rig.journal import Journal


def note(path: Path, what: str, events: Iterable[tuple[str, str, Event]]) -> None:
    """Enter events, each with its order and serial; they are on the disk on return.

    Raises:
        JournalError: when the record cannot be kept.

    """
    now = datetime.now(UTC)
    utc = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    journal = Journal(path, f"{now:%Y%m%dT%H%M%S.%f}-{what}")
    try:
        for number, (order, serial, event) in enumerate(events, start=1):
            journal.record(Stamped(number, 0, utc, order, serial, event))
        journal.barrier().result()
    finally:
        journal.close()
