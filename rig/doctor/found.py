"""What the doctor finds."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Health(StrEnum):
    """How it is with one thing."""

    GOOD = "good"
    NOTE = "note"
    BAD = "bad"


@dataclass(frozen=True, slots=True)
class Found:
    """One thing that was looked at: what it is, how it is, in words, and how to mend it where it is not good."""

    what: str
    health: Health
    words: str
    mend: str = ""


def good(what: str, words: str) -> Found:
    """It is as it has to be."""
    return Found(what, Health.GOOD, words)


def note(what: str, words: str, mend: str) -> Found:
    """It works, but may not always."""
    return Found(what, Health.NOTE, words, mend)


def bad(what: str, words: str, mend: str) -> Found:
    """Nothing works before it is mended."""
    return Found(what, Health.BAD, words, mend)
