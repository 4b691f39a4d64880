"""What people type and scanners send: text without anything that acts on a terminal, names, numbers."""

from __future__ import annotations

import re
import unicodedata

_NUMBER = re.compile(r"([+-]?\d+)(?:[.,](\d+))?(?: *mm)?")


def typed_number(text: str) -> float:
    """The number in what was typed, with a decimal point or comma, `mm` after it or not.

    Raises ValueError, with words for the person, for anything else. A number with both signs is not guessed at.
    """
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"{text.strip()[:40]!r} is not a number; type it like 398.5 or 398,5")
    return float(f"{match[1]}.{match[2] or 0}")


_SEPARATORS = "\x1c\x1d\x1e\x1f"
LONGEST_NAME = 60
"""Of a person, in letters."""


def typed_text(text: str) -> str:
    """A line as it was meant: control characters and invisible ones are dropped, gaps are one space.

    Scanners end with a carriage return or a tab, and codes hold group separators (ISO/IEC 15434); neither may reach a
    terminal, a label or a file name.
    """
    spaced = "".join(
        " " if letter.isspace() and letter not in _SEPARATORS else letter
        for letter in unicodedata.normalize("NFC", text)
    )
    return " ".join("".join(letter for letter in spaced if letter.isprintable()).split())


def typed_name(text: str) -> str:
    """The name of a person, or what a badge holds. Raises ValueError, with words for the person, if it is none."""
    name = typed_text(text)
    if not any(letter.isalnum() for letter in name):
        raise ValueError(f"{name[:LONGEST_NAME]!r} is no name; allowed: a name, or what a badge holds")
    if len(name) > LONGEST_NAME:
        raise ValueError(f"a name of {len(name)} letters is too long; allowed: up to {LONGEST_NAME}")
    return name
