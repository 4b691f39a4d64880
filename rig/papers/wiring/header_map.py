"""Sheet: the board's header as one looks at it, pin by pin."""

from __future__ import annotations

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import Drawing
from rig.papers.wiring.elements import new_sheet
from wiring.circuit.copper import Circuit
from wiring.circuit.schedules import PinRow, pin_rows
from wiring.profile import RigProfile

_MIDDLE, _TOP, _PITCH = 148.5, 26.0, 7.9
_NOTES = (
    "Usual numbering: pin 1 has the square pad, odd numbers stand in one row, even in the other. "
    "Compare with your board's own drawing.",
    "This board's header is not the usual one: write each pin down from the board's own drawing, and check it twice.",
)


def header_sheet(profile: RigProfile, circuit: Circuit) -> Drawing:
    """Draw the sheet."""
    pen = new_sheet(circuit, "header", "Header pins of the board, -A1")
    rows = pin_rows(profile)
    if profile.electrical.header == "40-pin":
        _usual(pen, rows)
        pen.text(14, 18, _NOTES[0], size=2.6)
    else:
        _other(pen, rows)
        pen.text(14, 18, _NOTES[1], size=2.6)
    return pen.drawing


def _usual(pen: Pen, rows: tuple[PinRow, ...]) -> None:
    pen.box(_MIDDLE - 10, _TOP - 1, 20, 20 * _PITCH + 1)
    for row in rows:
        number = row.pin or 0
        right = number % 2 == 0
        y = _TOP + (number - 1) // 2 * _PITCH + 4
        x = _MIDDLE + (4.5 if right else -4.5)
        if number == 1:
            pen.box(x - 3, y - 3, 6, 6)
        pen.circle(x, y, 2.6)
        pen.symbol(f"pin {number}", x - 2.6, y - 2.6, 5.2, 5.2)
        pen.text(x, y + 0.9, str(number), size=2.6, anchor="middle", bold=bool(row.duty))
        outside = _MIDDLE + (13 if right else -13)
        pen.text(
            outside, y + 0.9, _words(row), size=2.6, anchor="start" if right else "end", bold=bool(row.duty)
        )


def _words(row: PinRow) -> str:
    if row.duty:
        return f"{row.carries}, {row.direction}, {row.active} is on: {row.duty} ({row.wired_to})"
    return f"{row.carries} ({row.wired_to})" if row.wired_to else row.carries


def _other(pen: Pen, rows: tuple[PinRow, ...]) -> None:
    for index, row in enumerate(rows):
        x = 20 if index < 20 else 156
        y = _TOP + index % 20 * _PITCH + 4
        pen.text(x, y, f"pin ____  {_words(row)}", size=2.6)
