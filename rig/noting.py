"""Enters something into the record outside of a run, such as a decision by hand or a paper that was made."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from rig.events import Event, Stamped
from rig.journal import Journal
from rig.moments import run_named, utc_now


def note(path: Path, what: str, events: Iterable[tuple[str, str, Event]]) -> None:
    """Enter events, each with its order and serial; they are on the disk on return.

    Raises:
        JournalError: when the record cannot be kept.

    """
    utc = utc_now()
    journal = Journal(path, run_named(what))
    try:
        for number, (order, serial, event) in enumerate(events, start=1):
            journal.record(Stamped(number, 0, utc, order, serial, event))
        journal.barrier().result()
    finally:
        journal.close()
