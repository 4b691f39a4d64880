"""Charts as simple shapes, made once and put on paper and into a browser alike.

Lengths in mm from the upper left corner of the chart, sizes of letters in points.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

POINT_MM = 25.4 / 72

Anchor = Literal["start", "middle", "end"]
"""Which end of some words stands at their place."""


class Ink(StrEnum):
    """Colours by what they mean (IEC 60073); each is told from the others by shape or words as well."""

    BLACK = "#1a1a1a"
    GREY = "#595959"
    LIGHT = "#d9d9d9"
    PALE = "#f0f0f0"
    WHITE = "#ffffff"
    GOOD = "#1b6e34"
    GOOD_PALE = "#cfe8d5"
    BAD = "#b3261e"
    UNDECIDED = "#8a5a00"
    UNDECIDED_PALE = "#f6e3b5"


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line from one place to another."""

    x1: float
    y1: float
    x2: float
    y2: float
    ink: Ink = Ink.BLACK
    width: float = 0.3
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled polygon; a rectangle, a marker."""

    corners: tuple[tuple[float, float], ...]
    fill: Ink
    edge: Ink | None = None


@dataclass(frozen=True, slots=True)
class Words:
    """A line of words on a baseline, set to one side of a place or about it."""

    x: float
    y: float
    text: str
    size_pt: float = 7.5
    anchor: Anchor = "middle"
    bold: bool = False
    ink: Ink = Ink.BLACK


Shape = Stroke | Area | Words


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart with a title, and in words what it shows, for whoever cannot see it."""

    title: str
    description: str
    width: float
    height: float
    shapes: tuple[Shape, ...]


def box(x: float, y: float, width: float, height: float, fill: Ink, edge: Ink | None = None) -> Area:
    """A rectangle by its upper left corner."""
    return Area(((x, y), (x + width, y), (x + width, y + height), (x, y + height)), fill, edge)


def diamond(x: float, y: float, half: float, fill: Ink, edge: Ink | None = None) -> Area:
    """A square on its corner, about a place."""
    return Area(((x, y - half), (x + half, y), (x, y + half), (x - half, y)), fill, edge)


def triangle(x: float, y: float, half: float, fill: Ink, edge: Ink | None = None) -> Area:
    """A triangle that stands on its side, about a place."""
    return Area(((x, y - half), (x + half, y + 0.8 * half), (x - half, y + 0.8 * half)), fill, edge)


@dataclass(frozen=True, slots=True)
class Axis:
    """Values laid out along a length in mm."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value lies; one beyond the axis lies at its end."""
        inside = min(max(value, self.low), self.high)
        return self.start + (inside - self.low) * (self.end - self.start) / (self.high - self.low)

    def ticks(self, most: int) -> tuple[float, ...]:
        """Round values along the axis, `most` at most."""
        step = round_step((self.high - self.low) / most)
        first = math.ceil(self.low / step - 1e-9)
        last = math.floor(self.high / step + 1e-9)
        return tuple(round(count * step, 9) + 0.0 for count in range(first, last + 1))


def round_step(least: float) -> float:
    """The smallest of 1, 2 and 5 times a power of ten that is not below `least`."""
    power = 10.0 ** math.floor(math.log10(least))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= least * (1 - 1e-9))
