"""Curves as lines of text: filled from below, two steps a line, with both axes named."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

_SIGNS = ("\u2588", "\u2584")
_PLAIN_SIGNS = ("#", ".")


@dataclass(frozen=True, slots=True)
class Curve:
    """A curve over evenly spaced places, one a column.

    Attributes:
        heights: none below 0.
        top: the height of the uppermost line.
        label: how a height is written beside the axis.
        ends: how the first, the middle and the last place are written below.
        marks: places to be marked on the axis, in parts of its length.

    """

    title: str
    heights: Sequence[float]
    top: float
    label: Callable[[float], str]
    ends: tuple[str, str, str]
    marks: tuple[float, ...] = ()


def curve_lines(curve: Curve, lines: int, *, plain: bool) -> list[str]:
    """Title, the curve itself on so many lines, the axis and its ends; `plain` keeps to ASCII."""
    labels = {0: curve.label(curve.top), lines // 2: curve.label(curve.top * (1 - lines // 2 / lines))}
    margin = max(map(len, (*labels.values(), curve.label(0.0))))
    drawn = [
        f"{labels.get(line, ''):>{margin}} |{_line(curve, lines - 1 - line, lines, plain=plain)}"
        for line in range(lines)
    ]
    axis = f"{curve.label(0.0):>{margin}} +{_axis(curve)}"
    return [curve.title, *drawn, axis, f"{'':{margin}}  {_below(curve.ends, len(curve.heights))}"]


def beside(left: Sequence[str], right: Sequence[str], gap: int = 3) -> list[str]:
    """Two drawings of the same height, one beside the other."""
    width = max(map(len, left)) + gap
    return [f"{one:<{width}}{other}" for one, other in zip(left, right, strict=True)]


def _line(curve: Curve, above: int, lines: int, *, plain: bool) -> str:
    full, half = _PLAIN_SIGNS if plain else _SIGNS
    steps = [round(2 * lines * height / curve.top) - 2 * above for height in curve.heights]
    return "".join(full if step >= 2 else half if step == 1 else " " for step in steps).rstrip()


def _axis(curve: Curve) -> str:
    last = len(curve.heights) - 1
    marked = {round(mark * last) for mark in curve.marks}
    return "".join("^" if column in marked else "-" for column in range(last + 1))


def _below(ends: tuple[str, str, str], width: int) -> str:
    first, middle, last = ends
    line = f"{first:<{width // 2 - len(middle) // 2}}{middle}"
    return f"{line}{last:>{width - len(line)}}"
