"""Years, months and days, as a person names them."""

from __future__ import annotations

import re
from datetime import date, timedelta

from wiring.plainwords import printable

_PERIOD = re.compile(r"(\d{4})(?:-(\d{2}))?(?:-(\d{2}))?")


def period(text: str) -> tuple[str, str]:
    """A year, month or day as its begin and the begin of the next one; raises ValueError for anything else."""
    words = (
        f"given {printable(text, 40)!r}; allowed: a year, month or day, such as 2026, 2026-03 or 2026-03-05"
    )
    match = _PERIOD.fullmatch(text)
    if match is None or not text.isascii():
        raise ValueError(words)
    year, month, day = match.groups()
    try:
        first = date(int(year), int(month or 1), int(day or 1))
        # The longest month has 31 days and the longest year 366: from its begin this far on is in the next one.
        next_one = first + timedelta(days=1 if day else 31 if month else 366)
    except (ValueError, OverflowError):
        raise ValueError(words) from None
    if not day:
        next_one = next_one.replace(day=1) if month else next_one.replace(month=1, day=1)
    return first.isoformat(), next_one.isoformat()
