"""Distances drawn to scale in plain characters, for a terminal of any width.

Only ASCII: the text console of a small board shows little more.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

NARROWEST = 20
"""A scale of fewer characters shows nothing."""

_ROUND_STEPS = (1, 2, 5)
_HAIR = 1e-9


class TooNarrow(ValueError):
    """The titles leave no room for a scale in the width that was asked for."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of distances in mm, drawn with one character and named in the legend."""

    start_mm: float
    end_mm: float
    sign: str
    name: str


@dataclass(frozen=True, slots=True)
class Bar:
    """A line of spans; later spans cover earlier ones, and one too short for a character still takes one."""

    title: str
    spans: tuple[Span, ...]


@dataclass(frozen=True, slots=True)
class Mark:
    """A single distance in mm with a short name."""

    at_mm: float
    name: str


@dataclass(frozen=True, slots=True)
class Row:
    """A line of marks. A name begins at its distance, behind the `pointer` if there is one.

    Names that would run into one another go to a further line.
    """

    title: str
    marks: tuple[Mark, ...]
    pointer: str = ""


def draw(start_mm: float, end_mm: float, lines: Sequence[Bar | Row], *, width: int) -> list[str]:
    """A ruler, bars and rows under it and a legend, none wider than `width` characters.

    What lies off the scale is left out. Raises TooNarrow where less than `NARROWEST` characters are left for the
    scale, ValueError for a scale without length.
    """
    if not -math.inf < start_mm < end_mm < math.inf:
        raise ValueError(f"a scale from {start_mm:g} to {end_mm:g} mm has no length")
    indent = max((len(line.title) for line in lines), default=0) + 2
    if width - indent < NARROWEST:
        raise TooNarrow(f"{width} characters are too few; allowed: {indent + NARROWEST} or more")
    scale = _Scale(start_mm, end_mm, width - indent)
    drawn = [("", text) for text in scale.ruler()]
    for line in lines:
        texts = [scale.bar(line.spans)] if isinstance(line, Bar) else scale.row(line)
        drawn += zip((line.title, *[""] * len(texts)), texts, strict=False)
    return [f"{title:<{indent}}{text}".rstrip() for title, text in drawn] + _legend(lines, width)


class _Scale:
    """Where each distance lies on a line of so many characters."""

    def __init__(self, start_mm: float, end_mm: float, columns: int) -> None:
        self._start_mm, self._end_mm, self._columns = start_mm, end_mm, columns
        self._per_mm = (columns - 1) / (end_mm - start_mm)

    def ruler(self) -> tuple[str, str]:
        """Round distances, and a tick under the first character of each."""
        marks = self._round_marks()
        kept = tuple(mark for mark in marks if self._column(mark.at_mm) + len(mark.name) <= self._columns)
        ticks = ["-"] * self._columns
        for mark in marks:
            ticks[self._column(mark.at_mm)] = "|"
        return self.row(Row("", kept))[0], "".join(ticks)

    def bar(self, spans: Iterable[Span]) -> str:
        signs = [" "] * self._columns
        for span in spans:
            start_mm, end_mm = max(span.start_mm, self._start_mm), min(span.end_mm, self._end_mm)
            if start_mm <= end_mm:
                first, last = self._column(start_mm), self._column(end_mm)
                signs[first : last + 1] = span.sign * (last - first + 1)
        return "".join(signs)

    def row(self, row: Row) -> list[str]:
        waiting = [
            self._placed(mark, row.pointer)
            for mark in sorted(row.marks, key=lambda mark: mark.at_mm)
            if self._start_mm <= mark.at_mm <= self._end_mm
        ]
        texts: list[str] = []
        while waiting or not texts:
            text, later = "", []
            for start, name in waiting:
                if text and start <= len(text):
                    later.append((start, name))
                else:
                    text = f"{text:<{start}}{name}"
            texts.append(text)
            waiting = later
        return texts

    def _placed(self, mark: Mark, pointer: str) -> tuple[int, str]:
        column, name = self._column(mark.at_mm), f"{pointer}{mark.name}"
        if column + len(name) <= self._columns:
            return column, name
        # No room to the right: the name ends at its distance instead.
        name = f"{mark.name}{pointer}"[-self._columns :]
        return max(0, column + 1 - len(name)), name

    def _column(self, at_mm: float) -> int:
        return round((at_mm - self._start_mm) * self._per_mm)

    def _round_marks(self) -> tuple[Mark, ...]:
        """Multiples of the smallest round step whose numbers stand clear of one another."""
        power = 10.0 ** math.floor(math.log10(3 / self._per_mm))
        for step_mm in (step * factor * power for factor in (1, 10, 100) for step in _ROUND_STEPS):
            first = math.ceil(self._start_mm / step_mm - _HAIR)
            last = math.floor(self._end_mm / step_mm + _HAIR)
            marks = tuple(self._mark(at * step_mm) for at in range(first, last + 1))
            widest = max((len(mark.name) for mark in marks), default=0)
            if (widest + 2) / self._per_mm <= step_mm:
                break
        return marks

    def _mark(self, at_mm: float) -> Mark:
        # Rounding may have put it a hair beyond an end.
        return Mark(min(max(at_mm, self._start_mm), self._end_mm), _short(at_mm))


def _short(at_mm: float) -> str:
    return f"{round(at_mm, 6):g}"


def _legend(lines: Sequence[Bar | Row], width: int) -> list[str]:
    spans = [span for line in lines if isinstance(line, Bar) for span in line.spans]
    words = dict.fromkeys(f"{span.sign} {span.name}" for span in spans)
    texts: list[str] = []
    for word in words:
        if texts and len(texts[-1]) + 3 + len(word) <= width:
            texts[-1] += f"   {word}"
        else:
            texts.append(word[:width])
    return texts
