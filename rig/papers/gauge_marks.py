"""Marks, scales and grids of the charts of a gauge study, and the deviations that they show."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.gauge.figures import Figures
from rig.papers.chart import Axis, Ink, Shape, Stroke, Words, box, diamond, triangle

WIDTH, LEFT, TOP, BOTTOM = 182.0, 14.0, 8.0, 44.0
"""Of a chart, and where its values are drawn, in mm."""

_INKS = (Ink.GOOD, Ink.BAD, Ink.UNDECIDED, Ink.GREY, Ink.BLACK)
_SIZE = 1.0


def ink_of(level: int) -> Ink:
    """The colour of a level."""
    return _INKS[level % len(_INKS)]


def mark(x: float, y: float, level: int) -> Iterator[Shape]:
    """Every level has a shape of its own, and a colour."""
    ink = ink_of(level)
    match level % 4:
        case 0:
            yield diamond(x, y, _SIZE, ink)
        case 1:
            yield Stroke(x - _SIZE, y - _SIZE, x + _SIZE, y + _SIZE, ink, 0.45)
            yield Stroke(x - _SIZE, y + _SIZE, x + _SIZE, y - _SIZE, ink, 0.45)
        case 2:
            yield triangle(x, y, 1.2, Ink.WHITE, ink)
        case _:
            yield box(x - 0.8, y - 0.8, 1.6, 1.6, Ink.WHITE, ink)


def legend(levels: Sequence[str]) -> Iterator[Shape]:
    """The mark of each level."""
    x = LEFT + 4
    for level, name in enumerate(levels):
        yield from mark(x, 2.2, level)
        yield Words(x + 2.5, 3.1, name, 7.5, "start")
        x += 8 + 1.5 * len(name)


def offs(figures: Figures) -> list[float]:
    """All values less their units' means."""
    return [one for level in range(figures.values.levels) for one in offs_of(figures, level)]


def offs_of(figures: Figures, level: int) -> list[float]:
    """Those of one level."""
    values = figures.values
    return [
        value - mean for unit, mean in zip(values.by, values.unit_means, strict=True) for value in unit[level]
    ]


def upwards(off: Sequence[float]) -> Axis:
    """A scale with zero in the middle that holds all of them."""
    most = 1.1 * max(map(abs, off)) or 1.0
    return Axis(-most, most, BOTTOM, TOP)


def grid(up: Axis, end: float = WIDTH - 2) -> Iterator[Shape]:
    """Lines across at round values, in mm."""
    for tick in up.ticks(6):
        yield Stroke(LEFT, up.at(tick), end, up.at(tick), Ink.GREY if tick == 0 else Ink.LIGHT, 0.25)
        yield Words(LEFT - 1.5, up.at(tick) + 0.9, f"{tick:+g}" if tick else "0", 7, "end")
    yield Words(0, TOP - 2, "mm", 7, "start", ink=Ink.GREY)


def percent_below(across: Axis, y: float) -> Iterator[Shape]:
    """A scale of shares."""
    yield Stroke(across.start, y, across.end, y, Ink.BLACK, 0.35)
    for tick in across.ticks(8):
        yield Stroke(across.at(tick), y, across.at(tick), y + 1, Ink.BLACK, 0.35)
        yield Words(across.at(tick), y + 4, f"{100 * tick:g} %", 7)
