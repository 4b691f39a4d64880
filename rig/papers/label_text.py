"""Text set into a field of a label: at the largest size at which all of it fits, or not at all. Never cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reportlab.pdfbase.pdfmetrics import getAscentDescent, stringWidth

from rig.papers.fonts import BOLD, REGULAR, register_fonts
from rig.papers.label_parts import LEADING, POINTS_PER_MM, Ground, TextField

_STEP_PT = 0.25
# Free room on both sides of a text that has a ground.
_PADDING_MM = 0.8


@dataclass(frozen=True, slots=True)
class Set:
    """Text as it goes on paper; `lines` holds all of it."""

    font: str
    size_pt: float
    lines: tuple[str, ...]

    @property
    def first_baseline_pt(self) -> float:
        """From the upper edge of the lines to the first baseline, so that letters stand in the middle of a line."""
        ascent, descent = getAscentDescent(self.font, self.size_pt)
        return float(self.size_pt * LEADING + ascent + descent) / 2

    @property
    def height_pt(self) -> float:
        """Height of all lines."""
        return len(self.lines) * self.size_pt * LEADING


def room_mm(field: TextField) -> tuple[float, float]:
    """Left edge and width of the room for text in a field, in mm."""
    padding_mm = 0.0 if field.ground is Ground.NONE else _PADDING_MM
    return field.x_mm + padding_mm, field.width_mm - 2 * padding_mm


def set_text(text: str, field: TextField) -> Set | None:
    """Text, of letters that the fonts have, in the largest size that its field's rule allows; None: too long."""
    register_fonts()
    font = BOLD if field.bold else REGULAR
    width_pt = room_mm(field)[1] * POINTS_PER_MM
    for size_pt in _sizes_pt(field):
        most = min(field.lines, int(field.height_mm * POINTS_PER_MM / (size_pt * LEADING) + 1e-6))
        lines = _broken(text, font, size_pt, width_pt, most)
        if lines is not None:
            return Set(font, size_pt, lines)
    return None


def _sizes_pt(field: TextField) -> Iterator[float]:
    least_pt = field.size_pt if field.least_pt is None else field.least_pt
    size_pt = field.size_pt
    while size_pt > least_pt:
        yield size_pt
        size_pt -= _STEP_PT
    yield least_pt


def _broken(text: str, font: str, size_pt: float, width_pt: float, most: int) -> tuple[str, ...] | None:
    """Text in lines, broken at spaces where there are any; None if it takes more than `most`."""
    lines: list[str] = []
    while text:
        fitting = _fitting(text, font, size_pt, width_pt)
        if len(lines) == most or not fitting:
            return None
        space = text.rfind(" ", 1, fitting + 1) if fitting < len(text) else -1
        end = fitting if space < 0 else space
        lines.append(text[:end])
        text = text[end:] if space < 0 else text[end + 1 :]
    return tuple(lines)


def _fitting(text: str, font: str, size_pt: float, width_pt: float) -> int:
    """How many of the first letters stand on a line."""
    taken_pt = 0.0
    for count, letter in enumerate(text):
        taken_pt += stringWidth(letter, font, size_pt)
        if taken_pt > width_pt + 1e-6:
            return count
    return len(text)
