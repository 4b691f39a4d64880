"""What is said when the record cannot be kept or read."""

from __future__ import annotations

from pathlib import Path

from wiring.saying import say


class JournalError(OSError):
    """The record cannot be written or read: stop before a unit is taught, mend the disk, start again."""


def cannot_keep(path: Path, failure: Exception) -> JournalError:
    """A place that takes no store."""
    return JournalError(
        say(
            "{path}: cannot keep the record here ({failure}); {advice}",
            path=path,
            failure=in_words(failure),
            advice=advice(failure, _ELSEWHERE),
        )
    )


def in_words(failure: Exception) -> str:
    """What the system or the database says of a failure, without numbers and names that are said already."""
    return getattr(failure, "strerror", None) or str(failure)


def advice(failure: Exception, otherwise: str = "free or mend the disk, then start again") -> str:
    """What to do about a failure of the database."""
    words = str(failure)
    return next((told for sign, told in _ADVICE.items() if sign in words), otherwise)


_ELSEWHERE = "choose another folder"
# SQLite's own words for what can be told apart.
_ADVICE = {
    "database is locked": "another program holds it: end that, then start again",
    "malformed": "it is damaged: put a backup back (teachrig restore), then start again",
    "no room": "make room on the disk, then start again",
}
