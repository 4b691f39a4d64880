"""What is said when the record cannot be kept or read."""

from __future__ import annotations


class JournalError(OSError):
    """The record cannot be written or read: stop before a unit is taught, mend the disk, start again."""
