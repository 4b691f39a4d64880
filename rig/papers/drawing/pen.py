"""Draws shapes, symbols and wires, and keeps account of what is copper."""

from __future__ import annotations

import textwrap

from rig.papers.drawing.shapes import THIN, WIRE, Anchor, Circle, Drawing, Frame, Line, Point, Text
from wiring.circuit.copper import Circuit, terminal


class Pen:
    """Draws one sheet of a circuit."""

    def __init__(self, drawing: Drawing, circuit: Circuit) -> None:
        self.drawing = drawing
        self.circuit = circuit

    def line(self, *points: Point, width: float = THIN, dashed: bool = False, fill: bool = False) -> None:
        """A line that is no wire."""
        self.drawing.shapes.append(Line(points, width, dashed, fill))

    def box(self, x: float, y: float, width: float, height: float, *, dashed: bool = False) -> None:
        """A rectangle from its upper left corner."""
        right, low = x + width, y + height
        self.line((x, y), (right, y), (right, low), (x, low), (x, y), dashed=dashed)

    def circle(self, x: float, y: float, radius: float, *, fill: bool = False) -> None:
        """A circle around a point."""
        self.drawing.shapes.append(Circle(x, y, radius, fill))

    def text(
        self,
        x: float,
        y: float,
        words: str,
        *,
        size: float = 2.4,
        anchor: Anchor = "start",
        bold: bool = False,
    ) -> None:
        """A line of text on its base line."""
        self.drawing.shapes.append(Text(x, y, words, size, anchor, bold))

    def paragraph(self, x: float, y: float, words: str, *, letters: int, size: float = 2.4) -> None:
        """Text over several lines of so many letters."""
        for index, line in enumerate(textwrap.wrap(words, letters)):
            self.text(x, y + index * size * 1.3, line, size=size)

    def wire(self, *points: Point) -> None:
        """A wire through points."""
        self.drawing.conductors.append(points)
        self.line(*points, width=WIRE)

    def node(self, x: float, y: float) -> None:
        """A dot where wires are joined."""
        self.circle(x, y, 0.55, fill=True)

    def symbol(self, name: str, x: float, y: float, width: float, height: float) -> None:
        """Take up room for a symbol."""
        self.drawing.symbols.append((name, Frame(x, y, width, height)))

    def pin(self, place: str, x: float, y: float) -> None:
        """A terminal such as `-K11:A1` lies here."""
        self.drawing.pins.append((place, (x, y)))

    def net_of(self, place: str) -> str:
        """The number of the net that a terminal is on."""
        return self.circuit.net_at(terminal(place)).number

    def tag(self, x: float, y: float, place: str, *, anchor: Anchor = "start") -> None:
        """The number and colour of the wire at a terminal, beside a wire drawn upwards."""
        net = self.circuit.net_at(terminal(place))
        self.text(x, y, f"{net.number} {net.colour}", size=2.0, anchor=anchor)

    def flag(self, number: str, x: float, y: float, *, up: bool, note: str = "") -> None:
        """End a wire at a named net: an arrowhead and its number, above or below the point."""
        self.drawing.flags.append((number, (x, y)))
        tip = y - 2.2 if up else y + 2.2
        self.line((x - 1.1, y), (x + 1.1, y), (x, tip), (x - 1.1, y), fill=True)
        words = f"{number} {note}".strip()
        self.text(x, tip - 0.8 if up else tip + 2.6, words, size=2.4, anchor="middle", bold=True)
