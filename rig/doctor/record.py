"""The record that is there already: whether it can be read, and whether the clock has gone back since."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

from rig.doctor.found import Found, bad, good
from rig.journal import JournalError, reading

_NEWEST = "SELECT utc FROM entry ORDER BY number DESC LIMIT 1"
# Less is the clock being set right (our choice).
_EARLIER = timedelta(seconds=10)


def look_at_record(journal: Path, now: datetime) -> Iterator[Found]:
    """Look at a record, where there is one."""
    if not journal.is_file():
        return
    try:
        with reading(journal) as database:
            row = database.execute(_NEWEST).fetchone()
    except JournalError as failure:
        yield bad("record", str(failure), "put a backup back: teachrig restore FILE")
        return
    yield good("record", f"{journal} can be read")
    if row is None:
        return
    newest = datetime.fromisoformat(row[0])
    if now < newest - _EARLIER:
        yield bad(
            "clock",
            f"{now:%Y-%m-%d %H:%M} UTC is before the newest entry of the record, {newest:%Y-%m-%d %H:%M} UTC",
            "set it: sudo date -s 'YYYY-MM-DD HH:MM'; else what is noted now seems older than what it follows",
        )
