"""What a drawing is made of; millimetres, y downwards, as on the paper."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal, TypeAlias

Point: TypeAlias = tuple[float, float]
Anchor: TypeAlias = Literal["start", "middle", "end"]

THIN, WIRE, THICK = 0.2, 0.35, 0.6


@dataclass(frozen=True, slots=True)
class Line:
    """A line through points; `fill` closes and blackens it."""

    points: tuple[Point, ...]
    width: float = THIN
    dashed: bool = False
    fill: bool = False


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle around a point."""

    x: float
    y: float
    radius: float
    fill: bool = False


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text on its base line."""

    x: float
    y: float
    words: str
    size: float = 2.6
    anchor: Anchor = "start"
    bold: bool = False


Shape: TypeAlias = Line | Circle | Text


@dataclass(frozen=True, slots=True)
class Frame:
    """A rectangle that something takes up."""

    x: float
    y: float
    width: float
    height: float


@dataclass(slots=True)
class Drawing:
    """A page of shapes, and what of them is copper.

    Attributes:
        name: of its file, without ending.
        symbols: what each symbol takes up, by the designation that it shows.
        conductors: wires as drawn, each a line through points.
        pins: terminals, as text, at the points where wires reach them.
        flags: numbers of nets, at the points where they are named.

    """

    name: str
    title: str
    width: float = 297.0
    height: float = 210.0
    shapes: list[Shape] = field(default_factory=list)
    symbols: list[tuple[str, Frame]] = field(default_factory=list)
    conductors: list[tuple[Point, ...]] = field(default_factory=list)
    pins: list[tuple[str, Point]] = field(default_factory=list)
    flags: list[tuple[str, Point]] = field(default_factory=list)

    def texts(self) -> tuple[Text, ...]:
        """All its texts."""
        return tuple(shape for shape in self.shapes if isinstance(shape, Text))
