"""Symbols after IEC 60617 (from memory), upright: current goes from the upper pin to the lower.

Each is drawn from its upper pin `(x, y)` and returns the y of its lower pin. The designation stands to the left, the
marks of the terminals to the right of the pins.
"""

from __future__ import annotations

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import THICK, WIRE

HEIGHT = 14.0


def _named(pen: Pen, name: str, x: float, y: float, *, left: float = 5.0) -> None:
    pen.text(x - left, y + 0.9, name, size=2.8, anchor="end", bold=True)


def _pins(pen: Pen, name: str, x: float, y: float, upper: str, lower: str, height: float = HEIGHT) -> None:
    pen.pin(f"{name}:{upper}", x, y)
    pen.pin(f"{name}:{lower}", x, y + height)
    pen.text(x + 1.0, y + 2.2, upper, size=2.0)
    pen.text(x + 1.0, y + height - 0.7, lower, size=2.0)


def normally_open(pen: Pen, name: str, x: float, y: float, upper: str = "13", lower: str = "14") -> float:
    """A make contact."""
    pen.line((x, y), (x, y + 4.5), width=WIRE)
    pen.line((x, y + HEIGHT), (x, y + 9.5), (x - 3.2, y + 4.3), width=WIRE)
    pen.symbol(name, x - 3.6, y, 4.2, HEIGHT)
    _named(pen, name, x, y + 7)
    _pins(pen, name, x, y, upper, lower)
    return y + HEIGHT


def normally_closed(pen: Pen, name: str, x: float, y: float, upper: str, lower: str) -> float:
    """A break contact."""
    pen.line((x, y), (x, y + 4.5), (x + 2.6, y + 4.5), width=WIRE)
    pen.line((x, y + HEIGHT), (x, y + 9.5), (x + 2.3, y + 3.9), width=WIRE)
    pen.symbol(name, x - 0.4, y, 3.2, HEIGHT)
    _named(pen, name, x, y + 7)
    pen.pin(f"{name}:{upper}", x, y)
    pen.pin(f"{name}:{lower}", x, y + HEIGHT)
    pen.text(x + 3.3, y + 2.6, upper, size=2.0)
    pen.text(x + 3.3, y + HEIGHT - 0.7, lower, size=2.0)
    return y + HEIGHT


def change_over(pen: Pen, name: str, x: float, y: float) -> float:
    """A change-over contact, common 11 below; 12 (released) lies at `(x - 3.2, y)`, 14 (operated) at `(x + 3.2, y)`."""
    for side, mark in ((-3.2, "12"), (3.2, "14")):
        pen.line((x + side, y), (x + side, y + 5), width=WIRE)
        pen.pin(f"{name}:{mark}", x + side, y)
    pen.line((x - 3.2, y + 5), (x - 1.4, y + 5), width=WIRE)
    pen.line((x, y + HEIGHT), (x, y + 10.5), (x - 2.2, y + 4.4), width=WIRE)
    pen.symbol(name, x - 3.6, y, 7.2, HEIGHT)
    _named(pen, name, x, y + 8)
    pen.pin(f"{name}:11", x, y + HEIGHT)
    pen.text(x - 4.0, y + 3.0, "12", size=2.0, anchor="end")
    pen.text(x + 4.0, y + 3.0, "14", size=2.0)
    pen.text(x + 1.0, y + HEIGHT - 0.7, "11", size=2.0)
    return y + HEIGHT


def coil(pen: Pen, name: str, x: float, y: float, *, zener: bool) -> float:
    """A relay coil A1, A2 with its flyback path to the right, a Zener diode in it or not."""
    pen.line((x, y), (x, y + 4.5), width=WIRE)
    pen.box(x - 4, y + 4.5, 8, 5)
    pen.line((x, y + 9.5), (x, y + HEIGHT), width=WIRE)
    _diode_path(pen, x, y, zener=zener)
    pen.symbol(name, x - 4, y, 12.5, HEIGHT)
    _named(pen, name, x, y + 7)
    pen.pin(f"{name}:A1", x, y)
    pen.pin(f"{name}:A2", x, y + HEIGHT)
    pen.text(x - 1.0, y + 2.4, "A1", size=2.0, anchor="end")
    pen.text(x - 1.0, y + HEIGHT - 1.2, "A2", size=2.0, anchor="end")
    return y + HEIGHT


def _diode_path(pen: Pen, x: float, y: float, *, zener: bool) -> None:
    at = x + 6.8
    pen.line((x, y + 1), (at, y + 1), (at, y + HEIGHT - 1), (x, y + HEIGHT - 1))
    diode(pen, at, y + (8.6 if zener else 7.0), up=True)
    if zener:
        diode(pen, at, y + 5.2, up=False)
        pen.line((at - 1.3, y + 5.2 + 1.7), (at - 1.3, y + 5.2 + 0.9), (at + 1.3, y + 5.2 + 0.9), width=WIRE)


def diode(pen: Pen, x: float, y: float, *, up: bool) -> None:
    """A diode around a point, conducting upwards or downwards."""
    sign = -1 if up else 1
    pen.line(
        (x - 1.3, y - 0.9 * sign),
        (x + 1.3, y - 0.9 * sign),
        (x, y + 0.9 * sign),
        (x - 1.3, y - 0.9 * sign),
        fill=True,
    )
    pen.line((x - 1.3, y + 0.9 * sign), (x + 1.3, y + 0.9 * sign), width=WIRE)


def fuse(pen: Pen, name: str, x: float, y: float, rating: str) -> float:
    """A fuse: a rectangle with the wire through it."""
    pen.line((x, y), (x, y + HEIGHT), width=WIRE)
    pen.box(x - 1.8, y + 3.5, 3.6, 7)
    pen.symbol(name, x - 1.8, y + 3.5, 3.6, 7)
    _named(pen, name, x, y + 7, left=3.2)
    pen.text(x + 3.0, y + 7.9, rating, size=2.2)
    _pins(pen, name, x, y, "1", "2")
    return y + HEIGHT


def resistor(pen: Pen, name: str, x: float, y: float, value: str) -> float:
    """A resistor: a rectangle."""
    pen.line((x, y), (x, y + 3.5), width=WIRE)
    pen.box(x - 1.8, y + 3.5, 3.6, 7)
    pen.line((x, y + 10.5), (x, y + HEIGHT), width=WIRE)
    pen.symbol(name, x - 1.8, y + 3.5, 3.6, 7)
    _named(pen, name, x, y + 7, left=3.2)
    pen.text(x + 3.0, y + 7.9, value, size=2.2)
    _pins(pen, name, x, y, "1", "2")
    return y + HEIGHT


def strip_terminal(pen: Pen, place: str, x: float, y: float) -> None:
    """A terminal of a strip, in the middle of a wire that is drawn already or will be."""
    pen.circle(x, y, 0.9)
    pen.pin(place, x, y)
    pen.symbol(place, x - 0.9, y - 0.9, 1.8, 1.8)
    pen.text(x - 2.2, y + 0.8, place, size=2.2, anchor="end")


def push_to_stop(pen: Pen, x: float, y: float) -> None:
    """The mushroom head that latches, to the right of a contact from `y` on."""
    pen.line((x + 2.2, y + 7), (x + 8, y + 7), dashed=True)
    pen.line((x + 8, y + 4.5), (x + 8, y + 9.5), width=THICK)
    pen.line((x + 8, y + 4.5), (x + 9.6, y + 5.6), (x + 9.6, y + 8.4), (x + 8, y + 9.5), width=WIRE)


def roller(pen: Pen, x: float, y: float) -> None:
    """What makes a contact a position switch: the wedge on its blade."""
    pen.line((x - 2.9, y + 4.8), (x - 0.6, y + 6.0), (x - 1.6, y + 7.0), width=WIRE)


def pedal(pen: Pen, x: float, y: float) -> None:
    """A foot pedal, to the left of a make contact."""
    pen.line((x - 1.8, y + 6.9), (x - 4.0, y + 6.9), dashed=True)


def led(pen: Pen, x: float, y: float, *, side: int) -> None:
    """A light-emitting diode around a point, shining to the right (`side` 1) or to the left (-1)."""
    diode(pen, x, y, up=False)
    for shift in (-0.9, 0.7):
        tip = (x + 4.2 * side, y + shift - 1.0)
        pen.line((x + 1.9 * side, y + shift), tip)
        pen.line((x + 3.3 * side, y + shift - 1.1), tip, (x + 3.7 * side, y + shift - 0.2))


def phototransistor(pen: Pen, x: float, y: float, *, side: int) -> None:
    """A phototransistor around a point, lit from the right (`side` 1) or from the left (-1).

    Its collector is above at `(x, y - 4)`, its emitter below at `(x, y + 4)`.
    """
    base = x + 2.4 * side
    pen.line((base, y - 2.2), (base, y + 2.2), width=THICK)
    pen.line((base, y - 0.9), (x, y - 2.6), (x, y - 4), width=WIRE)
    pen.line((base, y + 0.9), (x, y + 2.6), (x, y + 4), width=WIRE)
    tip = x + 0.1 * side
    pen.line(
        (x + 1.1 * side, y + 2.5),
        (tip, y + 2.5),
        (x + 0.6 * side, y + 1.5),
        (x + 1.1 * side, y + 2.5),
        fill=True,
    )
