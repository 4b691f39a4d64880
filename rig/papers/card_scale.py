"""The scale on the hand card: face, blind zone, zone, set points with their tolerance, and what stands there."""

from __future__ import annotations

from dataclasses import dataclass

from reportlab.lib.colors import Color, HexColor, black, white
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import Flowable

from rig.papers.card import Card, Mark, Stretch
from rig.papers.fonts import BOLD, REGULAR

_DARK = HexColor("#404040")
_ZONE = HexColor("#d9d9d9")
_THING = HexColor("#a6a6a6")
_UNIT = 14 * mm
_BAR = 8 * mm
_THINGS = 5 * mm
# The line of the scale above the bottom of the drawing, without and with things below it.
_LOW, _HIGH = 6 * mm, 13 * mm


class CardScale(Flowable):
    """Distances to scale, `width` points wide."""

    def __init__(self, card: Card, width: float) -> None:
        super().__init__()
        self._card = card
        self._full_width = width
        self._axis = _HIGH if card.things else _LOW
        end_mm = max(card.range_mm, *(_end(thing, card.range_mm) for thing in card.things), 0.0)
        self._end_mm = end_mm
        self._per_mm = (width - _UNIT - 14 * mm) / end_mm

    def wrap(self, *_: float) -> tuple[float, float]:
        """Width and height."""
        return self._full_width, self._axis + _BAR + 10 * mm

    def draw(self) -> None:
        """Draw on the canvas of the page."""
        card = self._card
        self._unit()
        zone_mm = self._zone_mm()
        self._bar(Bar(0.0, card.blind_mm, self._axis, _BAR, _DARK, "blind", white))
        self._bar(Bar(*zone_mm, self._axis, _BAR, _ZONE, f"object here: output {card.inside}", black))
        for thing in card.things:
            end_mm = _end(thing, self._end_mm)
            self._bar(Bar(thing.start_mm, end_mm, self._axis - 6 * mm, _THINGS, _THING, thing.name, black))
        self.canv.setLineWidth(0.8)
        self.canv.line(_UNIT, self._axis, self._x(self._end_mm), self._axis)
        self._points()
        self._ends()

    def _x(self, at_mm: float) -> float:
        return _UNIT + at_mm * self._per_mm

    def _zone_mm(self) -> tuple[float, float]:
        points = [mark.at_mm for mark in self._card.points]
        start_mm = points[0] if len(points) > 1 else self._card.blind_mm
        return start_mm, points[-1] if points else self._card.range_mm

    def _unit(self) -> None:
        self.canv.setFillColor(black)
        self.canv.rect(0, self._axis, _UNIT, _BAR, stroke=0, fill=1)
        _centred(self.canv, _UNIT / 2, self._axis + 2.6 * mm, "sensor", white)

    def _bar(self, bar: Bar) -> None:
        x0, x1 = self._x(bar.start_mm), self._x(bar.end_mm)
        self.canv.setFillColor(bar.colour)
        self.canv.rect(x0, bar.bottom, x1 - x0, bar.height, stroke=0, fill=1)
        if x1 - x0 > stringWidth(bar.name, REGULAR, _SIZE) + 4:
            _centred(self.canv, (x0 + x1) / 2, bar.bottom + bar.height / 2 - 1.1 * mm, bar.name, bar.ink)

    def _points(self) -> None:
        """Set points, their names kept apart where they stand close together."""
        right = 0.0
        for mark in self._card.points:
            right = self._point(mark, right)

    def _point(self, mark: Mark, after: float) -> float:
        x, half = self._x(mark.at_mm), self._card.tolerance_mm * self._per_mm
        top = self._axis + _BAR
        self.canv.setLineWidth(1.5)
        self.canv.line(x, self._axis - 1.5 * mm, x, top + 3 * mm)
        self.canv.setLineWidth(0.8)
        self.canv.line(x - half, top + 1.5 * mm, x + half, top + 1.5 * mm)
        name = f"{mark.name} {mark.at_mm:g} mm"
        width = stringWidth(name, BOLD, _SIZE + 1)
        left = min(max(x - width / 2, after + 2 * mm), self._full_width - width)
        self.canv.setFont(BOLD, _SIZE + 1)
        self.canv.setFillColor(black)
        self.canv.drawString(left, top + 4.5 * mm, name)
        return left + width

    def _ends(self) -> None:
        below = 1 * mm
        blind, far = f"{self._card.blind_mm:g}", f"{self._card.range_mm:g} mm"
        _centred(self.canv, self._x(0.0), below, "0", black)
        if self._x(self._card.blind_mm) - self._x(0.0) > 5 * mm:
            _centred(self.canv, self._x(self._card.blind_mm), below, blind, black)
        _centred(self.canv, self._x(self._card.range_mm), below, far, black)


@dataclass(frozen=True, slots=True)
class Bar:
    """A filled stretch of the scale with a name that is left out where it does not fit."""

    start_mm: float
    end_mm: float
    bottom: float
    height: float
    colour: Color
    name: str
    ink: Color


_SIZE = 9.0


def _end(thing: Stretch, otherwise_mm: float) -> float:
    return thing.end_mm if thing.end_mm is not None else max(otherwise_mm, thing.start_mm * 1.05)


def _centred(canvas: Canvas, x: float, y: float, words: str, colour: Color) -> None:
    canvas.setFont(REGULAR, _SIZE)
    canvas.setFillColor(colour)
    canvas.drawCentredString(x, y, words)
    canvas.setFillColor(black)
