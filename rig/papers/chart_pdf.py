"""A chart on a page."""

from __future__ import annotations

from reportlab.lib.colors import HexColor
from reportlab.lib.units import mm
from reportlab.platypus import Flowable

from rig.papers.chart import Area, Chart, Shape, Stroke, Words
from rig.papers.fonts import BOLD, REGULAR, showable


class ChartOnPage(Flowable):
    """A chart at its true size."""

    def __init__(self, chart: Chart) -> None:
        super().__init__()
        self._chart = chart

    def wrap(self, *_: float) -> tuple[float, float]:
        """Width and height."""
        return self._chart.width * mm, self._chart.height * mm

    def draw(self) -> None:
        """Draw on the canvas of the page."""
        for shape in self._chart.shapes:
            self._draw(shape)

    def _draw(self, shape: Shape) -> None:
        match shape:
            case Stroke():
                self._stroke(shape)
            case Area():
                self._area(shape)
            case Words():
                self._words(shape)

    def _up(self, y: float) -> float:
        return (self._chart.height - y) * mm

    def _stroke(self, stroke: Stroke) -> None:
        self.canv.setStrokeColor(HexColor(stroke.ink))
        self.canv.setLineWidth(stroke.width * mm)
        self.canv.setDash([1.2 * mm, 0.8 * mm] if stroke.dashed else [])
        self.canv.line(stroke.x1 * mm, self._up(stroke.y1), stroke.x2 * mm, self._up(stroke.y2))
        self.canv.setDash([])

    def _area(self, area: Area) -> None:
        path = self.canv.beginPath()
        (x, y), *others = area.corners
        path.moveTo(x * mm, self._up(y))
        for x, y in others:
            path.lineTo(x * mm, self._up(y))
        path.close()
        self.canv.setFillColor(HexColor(area.fill))
        if area.edge is not None:
            self.canv.setStrokeColor(HexColor(area.edge))
            self.canv.setLineWidth(0.3 * mm)
        self.canv.drawPath(path, stroke=int(area.edge is not None), fill=1)

    def _words(self, words: Words) -> None:
        self.canv.setFont(BOLD if words.bold else REGULAR, words.size_pt)
        self.canv.setFillColor(HexColor(words.ink))
        put = {
            "start": self.canv.drawString,
            "middle": self.canv.drawCentredString,
            "end": self.canv.drawRightString,
        }
        put[words.anchor](words.x * mm, self._up(words.y), showable(words.text))
