"""Numbers as people type them."""

from __future__ import annotations

import re

_NUMBER = re.compile(r"([+-]?\d+)(?:[.,](\d+))?(?: *mm)?")


def typed_number(text: str) -> float:
    """The number in what was typed, with a decimal point or comma, `mm` after it or not.

    Raises ValueError, with words for the person, for anything else. A number with both signs is not guessed at.
    """
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"{text.strip()[:40]!r} is not a number; type it like 398.5 or 398,5")
    return float(f"{match[1]}.{match[2] or 0}")
