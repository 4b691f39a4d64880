"""Whether the disk takes what a unit will need, asked before the unit is begun."""

from __future__ import annotations

import os
from pathlib import Path

from rig.store.database import Database
from rig.store.errors import JournalError
from wiring.saying import say

UNIT_BYTES = 8_000_000
"""Free bytes with which a unit is begun: the longest guided measurement takes 1 MB, the log as much again."""

# Changes nothing, but is written and synchronised all the same.
_TOUCH = "UPDATE bench SET forwarded = forwarded WHERE id = :bench"


def must_have_room(store: Path) -> None:
    """Raises JournalError where a unit could not be recorded to its end."""
    disk = os.statvfs(store.parent)
    free = disk.f_bavail * disk.f_frsize
    if free < UNIT_BYTES:
        raise JournalError(
            say(
                "no room: {free:.1f} MB free, a unit may need {unit_bytes:.0f} MB",
                free=free / 1000000.0,
                unit_bytes=UNIT_BYTES / 1000000.0,
            )
        )


def touch(database: Database, bench: int) -> None:
    """Write something, in the transaction of the caller."""
    database.run(_TOUCH, {"bench": bench})
