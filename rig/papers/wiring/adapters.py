"""Sheet: leads from the nest's terminals to the unit's plug."""

from __future__ import annotations

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import WIRE, Drawing
from rig.papers.wiring.elements import new_sheet
from wiring.circuit.copper import Circuit

_FIXED = (("1", "BN", "L+"), ("3", "BU", "L-"), ("4", "BK", "output"))
_NOTES = (
    "M12 sockets are A-coded (IEC 61076-2-101). Pins 1, 3, 4 and colours are as in IEC 60947-5-2 (from memory).",
    "The teach wire's pin is NOT standardised: here it is pin 2, there pin 5, elsewhere a wire of its own.",
    "Its pin, colour and polarity stand in the sensor's data sheet and nowhere else.",
    "Make one lead for each sensor type, connect terminal 2 to that one pin, and put the name of the type on the lead.",
    "Every other pin stays open; so does pin 2 where it is a second output.",
    "Terminals 1 to 4 are those of the nest's strip: -X11 for the first nest, -X21 for the second, and so on.",
)


def adapter_sheet(circuit: Circuit) -> Drawing:
    """Draw the sheet."""
    pen = new_sheet(circuit, "adapters", "Leads to the unit's plug")
    _lead(pen, 20, "M12, 4 pins", (("2", "WH"),))
    _lead(pen, 114, "M12, 5 pins", (("2", "WH"), ("5", "GY")))
    _lead(pen, 208, "cable with open ends", (("", "by data sheet"),))
    for index, note in enumerate(_NOTES):
        pen.text(20, 146 + index * 5.4, note, size=2.8)
    return pen.drawing


def _lead(pen: Pen, x: float, title: str, teach: tuple[tuple[str, str], ...]) -> None:
    far = x + 42
    pen.text(x, 26, title, size=3.2, bold=True)
    pen.text(x, 32, "terminal", size=2.4)
    pen.text(far, 32, "unit" if not teach[0][0] else "pin of the socket", size=2.4)
    rows = [(mark, mark if teach[0][0] else "", colour, words) for mark, colour, words in _FIXED]
    for index, (mark, pin, colour, words) in enumerate(rows):
        y = 44.0 + index * 18
        _end(pen, x + 4, y, mark)
        _end(pen, far + 4, y, pin)
        pen.line((x + 7, y), (far + 1, y), width=WIRE)
        pen.text((x + far) / 2 + 4, y - 1.4, colour, anchor="middle")
        pen.text(far + 9, y + 0.9, words, size=2.6)
    _teach(pen, x, far, 44.0 + 3 * 18, teach)


def _teach(pen: Pen, x: float, far: float, y: float, ends: tuple[tuple[str, str], ...]) -> None:
    _end(pen, x + 4, y, "2")
    for index, (pin, colour) in enumerate(ends):
        low = y + index * 18
        _end(pen, far + 4, low, pin)
        pen.line((x + 7, y), (x + 14, y), (x + 20, low), (far + 1, low), width=WIRE, dashed=True)
        pen.text((x + far) / 2 + 10, low - 1.4, colour, anchor="middle")
        pen.text(
            far + 9,
            low + 0.9,
            "teach, if its data sheet says so" if pin and len(ends) == 1 else "teach",
            size=2.6,
        )
        if len(ends) > 1:
            pen.text(far + 9, low + 4.4, f"here or at {ends[1 - index][0]}, never both", size=2.6)


def _end(pen: Pen, x: float, y: float, mark: str) -> None:
    pen.circle(x, y, 3.0)
    pen.symbol(f"end {mark}", x - 3, y - 3, 6, 6)
    if mark:
        pen.text(x, y + 1.0, mark, size=2.8, anchor="middle", bold=True)
