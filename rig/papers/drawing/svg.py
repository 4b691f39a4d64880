"""A drawing as an SVG file."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from rig.papers.drawing.shapes import Circle, Drawing, Line, Shape, Text

_HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
    'viewBox="0 0 {width:g} {height:g}">\n<title>{title}</title>\n'
    '<rect width="100%" height="100%" fill="white"/>\n'
    '<g fill="none" stroke="black" stroke-linecap="round" stroke-linejoin="round" '
    'font-family="Helvetica, Arial, Liberation Sans, sans-serif">\n'
)


def svg(drawing: Drawing) -> str:
    """The drawing as the text of an SVG file."""
    head = _HEAD.format(width=drawing.width, height=drawing.height, title=escape(drawing.title))
    return head + "\n".join(_element(shape) for shape in drawing.shapes) + "\n</g>\n</svg>\n"


def _element(shape: Shape) -> str:
    match shape:
        case Line():
            points = " ".join(f"{x:.6g},{y:.6g}" for x, y in shape.points)
            look = ' fill="black"' if shape.fill else ""
            look += ' stroke-dasharray="1.6 1"' if shape.dashed else ""
            return f'<polyline points="{points}" stroke-width="{shape.width:g}"{look}/>'
        case Circle():
            look = ' fill="black"' if shape.fill else ' fill="white"'
            return f'<circle cx="{shape.x:.6g}" cy="{shape.y:.6g}" r="{shape.radius:g}" stroke-width="0.2"{look}/>'
        case Text():
            weight = ' font-weight="bold"' if shape.bold else ""
            return (
                f'<text x="{shape.x:.6g}" y="{shape.y:.6g}" font-size="{shape.size:g}" text-anchor='
                f'{quoteattr(shape.anchor)}{weight} fill="black" stroke="none">{escape(shape.words)}</text>'
            )
