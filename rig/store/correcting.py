"""A correction: a new entry that names an earlier one, what is wrong with it, what is right, by whom and why."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from rig.events import Corrected, Stamped
from rig.journal import Journal
from rig.moments import run_named, utc_now
from rig.store.appending import last_number
from rig.store.database import SqliteDatabase
from rig.store.opening import bench_of, reading

_ENTRY = "SELECT order_number, serial, kind, body FROM entry WHERE bench = ? AND number = ?"


class NotCorrected(ValueError):
    """Nothing was recorded; says what is allowed."""


def correct(store: Path, corrected: Corrected) -> Stamped:
    """Record a correction; the entry that it names stays as it is.

    Raises:
        NotCorrected: when this bench has no such entry, or that entry no such field, or a name or reason is missing.
        JournalError: when the record cannot be read or written.

    """
    found, last = _entry(store, corrected.corrects)
    if found is None:
        raise NotCorrected(f"this bench has no entry {corrected.corrects}; allowed: 1 to {last}")
    order, serial, kind, body = found
    fields = sorted(json.loads(body))
    if corrected.field and corrected.field not in fields:
        allowed = f"allowed: {', '.join(fields) or 'none'}"
        raise NotCorrected(f"entry {corrected.corrects} ({kind}) has no field {corrected.field}; {allowed}")
    if not corrected.person.strip() or not corrected.why.strip():
        raise NotCorrected(
            "a correction needs the name of whoever makes it, and why; allowed: both not empty"
        )
    stamped = Stamped(1, 0, utc_now(), order, serial, corrected)
    journal = Journal(store, run_named("correction"))
    journal.record(stamped)
    journal.close()
    return stamped


def _entry(store: Path, number: int) -> tuple[Sequence[Any] | None, int]:
    """An entry of the bench, if it is one, and the number of its last one."""
    with reading(store) as database:
        bench = bench_of(database)
        found: Sequence[Any] | None = database.execute(_ENTRY, (bench, number)).fetchone()
        return found, last_number(SqliteDatabase(database), bench)
