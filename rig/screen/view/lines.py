"""Lines of text with roles: what a word means, not which colour it has."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from enum import StrEnum
from typing import NamedTuple


class Role(StrEnum):
    """What a word stands for; a theme gives each a look, and without colour each still differs by words and marks."""

    PLAIN = "plain"
    DIM = "dim"
    STRONG = "strong"
    GOOD = "good"
    WARN = "warn"
    BAD = "bad"
    WISH = "wish"
    KEY = "key"
    OFF_KEY = "off-key"
    STOP_KEY = "stop-key"
    CHOSEN = "chosen"


class Span(NamedTuple):
    """Words of one role; `command` is done when they are clicked."""

    text: str
    role: Role = Role.PLAIN
    command: str = ""


Line = tuple[Span, ...]


def line(*parts: Span | str) -> Line:
    """Make a line of spans and plain text, leaving empty ones out."""
    spans = (part if isinstance(part, Span) else Span(part) for part in parts)
    return tuple(span for span in spans if span.text)


def text_of(of: Line) -> str:
    """The words of a line."""
    return "".join(span.text for span in of)


def width_of(of: Line) -> int:
    """How many columns a line takes."""
    return sum(columns(span.text) for span in of)


def columns(text: str) -> int:
    """How many columns a text takes in a terminal: wide letters take two, marks over letters none."""
    return (
        len(text)
        if text.isascii()
        else sum(
            0 if unicodedata.combining(one) else 2 if unicodedata.east_asian_width(one) in "WF" else 1
            for one in text
        )
    )


def fitted(of: Line, width: int) -> Line:
    """The line in exactly so many columns: cut with a `~`, or filled with spaces."""
    room, spans = width, []
    for span in of:
        if columns(span.text) > room:
            spans.append(span._replace(text=cut(span.text, room)))
            room = 0
            break
        spans.append(span)
        room -= columns(span.text)
    return (*spans, Span(" " * room)) if room else tuple(spans)


def cut(text: str, width: int) -> str:
    """The text in at most so many columns; a `~` stands for what is missing."""
    if columns(text) <= width:
        return text
    kept = ""
    for letter in text:
        if columns(kept + letter) >= width:
            break
        kept += letter
    return f"{kept}~" if width else ""


def printable(text: str) -> str:
    """The text without what a terminal would obey instead of showing it."""
    return "".join(one if one.isprintable() else " " for one in text)


def wrapped(text: str, width: int, lines: int) -> list[str]:
    """The text in words, on at most so many lines; what has no room is cut."""
    rows = [""]
    for word in text.split():
        longer = f"{rows[-1]} {word}".strip()
        if columns(longer) <= width or not rows[-1]:
            rows[-1] = longer
        else:
            rows.append(word)
    if len(rows) > lines:
        rows = [*rows[: lines - 1], " ".join(rows[lines - 1 :])]
    return [cut(row, width) for row in rows]


def beside(left: Line, right: Line, width: int) -> Line:
    """Two lines in one, the second at the right edge; the first is cut where both do not fit."""
    room = max(0, width - width_of(right))
    return (*fitted(left, room), *right)


def joined(groups: Iterable[Line], gap: str, width: int) -> Line:
    """As many groups as fit, with a gap between them."""
    chosen: Line = ()
    for group in groups:
        longer = (*chosen, Span(gap), *group) if chosen else group
        if width_of(longer) > width:
            break
        chosen = longer
    return chosen
