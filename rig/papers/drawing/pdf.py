"""A drawing on a page of a PDF."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from rig.papers.drawing.shapes import Circle, Drawing, Line, Shape, Text
from rig.papers.fonts import BOLD, REGULAR, showable


def draw_on(canvas: Canvas, drawing: Drawing) -> None:
    """Draw on the canvas's page, which has to be of the drawing's size."""
    canvas.saveState()
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for shape in drawing.shapes:
        _draw(canvas, shape, drawing.height)
    canvas.restoreState()


def _draw(canvas: Canvas, shape: Shape, height: float) -> None:
    match shape:
        case Line():
            path = canvas.beginPath()
            for index, (x, y) in enumerate(shape.points):
                (path.lineTo if index else path.moveTo)(x * mm, (height - y) * mm)
            canvas.setLineWidth(shape.width * mm)
            canvas.setDash([1.6 * mm, 1 * mm] if shape.dashed else [])
            canvas.drawPath(path, fill=int(shape.fill))
        case Circle():
            canvas.setLineWidth(0.2 * mm)
            canvas.setDash([])
            canvas.setFillGray(0 if shape.fill else 1)
            canvas.circle(shape.x * mm, (height - shape.y) * mm, shape.radius * mm, fill=1)
            canvas.setFillGray(0)
        case Text():
            canvas.setFont(BOLD if shape.bold else REGULAR, shape.size * mm)
            place = {
                "start": canvas.drawString,
                "middle": canvas.drawCentredString,
                "end": canvas.drawRightString,
            }
            place[shape.anchor](shape.x * mm, (height - shape.y) * mm, showable(shape.words))
