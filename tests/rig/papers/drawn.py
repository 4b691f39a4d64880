"""Reads a drawing back: what lies where, what covers what, and which terminals its copper joins."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise

from reportlab.pdfbase.pdfmetrics import stringWidth

from rig.papers.drawing.shapes import Drawing, Frame, Line, Point, Text
from rig.papers.fonts import BOLD, REGULAR, register_fonts

# Half of what two things may touch by before they count as covering one another, in mm.
_SLACK = 0.05
_BORDER = 8.0


def frame_of(text: Text) -> Frame:
    """What a text takes up, in the wider of the fonts of SVG and PDF."""
    register_fonts()
    fonts = ("Helvetica-Bold", BOLD) if text.bold else ("Helvetica", REGULAR)
    width = max(stringWidth(text.words, font, text.size) for font in fonts)
    left = text.x - {"start": 0.0, "middle": width / 2, "end": width}[text.anchor]
    return Frame(left, text.y - 0.73 * text.size, width, 0.94 * text.size)


def overlap(one: Frame, other: Frame) -> bool:
    return (
        one.x + _SLACK < other.x + other.width
        and other.x + _SLACK < one.x + one.width
        and one.y + _SLACK < other.y + other.height
        and other.y + _SLACK < one.y + one.height
    )


def holds(outer: Frame, inner: Frame) -> bool:
    return (
        outer.x <= inner.x + _SLACK
        and outer.y <= inner.y + _SLACK
        and inner.x + inner.width <= outer.x + outer.width + _SLACK
        and inner.y + inner.height <= outer.y + outer.height + _SLACK
    )


def faults(drawing: Drawing) -> list[str]:
    """Everything that an eye would stumble over."""
    return [*_off_page(drawing), *_covered_texts(drawing), *_covered_symbols(drawing), *_crossed(drawing)]


def _off_page(drawing: Drawing) -> Iterator[str]:
    page = Frame(_BORDER, _BORDER, drawing.width - 2 * _BORDER, drawing.height - 2 * _BORDER)
    for text in drawing.texts():
        if not holds(page, frame_of(text)):
            yield f"{text.words!r} lies off the page"
    for name, frame in drawing.symbols:
        if not holds(page, frame):
            yield f"symbol {name} lies off the page"
    for shape in drawing.shapes:
        if isinstance(shape, Line):
            for x, y in shape.points:
                if not holds(page, Frame(x, y, 0, 0)):
                    yield f"a line leaves the page at {x:g}, {y:g}"


def _covered_texts(drawing: Drawing) -> Iterator[str]:
    frames = [(text, frame_of(text)) for text in drawing.texts()]
    for (one, first), (other, second) in combinations(frames, 2):
        if overlap(first, second):
            yield f"{one.words!r} and {other.words!r} cover one another at {first.x:.0f}, {first.y:.0f}"
    lines = [
        segment for shape in drawing.shapes if isinstance(shape, Line) for segment in pairwise(shape.points)
    ]
    boxes = [(min(a[0], b[0]), max(a[0], b[0]), min(a[1], b[1]), max(a[1], b[1])) for a, b in lines]
    for text, frame in frames:
        left, right, high, low = frame.x, frame.x + frame.width, frame.y, frame.y + frame.height
        near = [
            segment
            for segment, (x0, x1, y0, y1) in zip(lines, boxes, strict=True)
            if x1 > left and x0 < right and y1 > high and y0 < low
        ]
        if any(_cuts(segment, frame) for segment in near):
            yield f"a line crosses {text.words!r} at {frame.x:.0f}, {frame.y:.0f}"
        for name, symbol in drawing.symbols:
            if overlap(frame, symbol) and not holds(symbol, frame):
                yield f"{text.words!r} lies half in symbol {name}"


def _covered_symbols(drawing: Drawing) -> Iterator[str]:
    for (one, first), (other, second) in combinations(drawing.symbols, 2):
        if overlap(first, second):
            yield f"symbols {one} and {other} cover one another"


def _crossed(drawing: Drawing) -> Iterator[str]:
    """Wires that run through a symbol, or over one another without a node."""
    segments = [segment for wire in drawing.conductors for segment in pairwise(wire)]
    for segment in segments:
        for name, frame in drawing.symbols:
            # A terminal of a strip is a circle on its wire.
            if frame.width > 2 and _cuts(segment, frame):
                yield f"a wire runs through symbol {name}"
    for one, other in combinations(segments, 2):
        if _cross(one, other):
            yield f"wires cross at {one} and {other}"


def _cuts(segment: tuple[Point, Point], frame: Frame) -> bool:
    """Whether an upright, level or slanting line enters a frame."""
    inner = Frame(
        frame.x + 2 * _SLACK, frame.y + 2 * _SLACK, frame.width - 4 * _SLACK, frame.height - 4 * _SLACK
    )
    (x0, y0), (x1, y1) = segment
    low, high = 0.0, 1.0
    for start, delta, least, most in (
        (x0, x1 - x0, inner.x, inner.x + inner.width),
        (y0, y1 - y0, inner.y, inner.y + inner.height),
    ):
        if delta == 0:
            if not least < start < most:
                return False
            continue
        ends = sorted(((least - start) / delta, (most - start) / delta))
        low, high = max(low, ends[0]), min(high, ends[1])
    return low < high


def _cross(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    """Whether an upright and a level wire cross in the middle of both, or lie on one another."""
    for (a, b), (c, d) in ((one, other), (other, one)):
        if a[0] == b[0] and c[1] == d[1]:
            x, y = a[0], c[1]
            across = min(c[0], d[0]) < x < max(c[0], d[0])
            along = min(a[1], b[1]) < y < max(a[1], b[1])
            if across and along:
                return True
    return False


def joined(drawings: Iterator[Drawing] | tuple[Drawing, ...]) -> dict[str, frozenset[str]]:
    """Which terminals the copper of all sheets joins, as each terminal's whole group; named nets join sheets."""
    groups = _Groups()
    for sheet, drawing in enumerate(drawings):
        points = [(f"pin {place}", point) for place, point in drawing.pins]
        points += [(f"net {number}", point) for number, point in drawing.flags]
        for index, wire in enumerate(drawing.conductors):
            key = f"wire {sheet}.{index}"
            groups.add(key)
            for name, point in points:
                if any(_on(point, segment) for segment in pairwise(wire)):
                    groups.join(key, name)
            for earlier in range(index):
                if _touch(wire, drawing.conductors[earlier]):
                    groups.join(key, f"wire {sheet}.{earlier}")
        for name, _ in points:
            groups.add(name)
    return groups.pins()


def _touch(one: tuple[Point, ...], other: tuple[Point, ...]) -> bool:
    """Whether an end of one wire lies on the other: a wire that only crosses another is not joined to it."""
    return any(
        _on(end, segment)
        for wire, far in ((one, other), (other, one))
        for end in (wire[0], wire[-1])
        for segment in pairwise(far)
    )


def _on(point: Point, segment: tuple[Point, Point]) -> bool:
    (x, y), ((x0, y0), (x1, y1)) = point, segment
    return min(x0, x1) <= x <= max(x0, x1) and min(y0, y1) <= y <= max(y0, y1) and (x0 == x1 or y0 == y1)


class _Groups:
    """Sets that grow together."""

    def __init__(self) -> None:
        self._lead: dict[str, str] = {}

    def add(self, name: str) -> str:
        while self._lead.setdefault(name, name) != name:
            name = self._lead[name]
        return name

    def join(self, one: str, other: str) -> None:
        self._lead[self.add(one)] = self.add(other)

    def pins(self) -> dict[str, frozenset[str]]:
        found: dict[str, set[str]] = {}
        for name in list(self._lead):
            if name.startswith("pin "):
                found.setdefault(self.add(name), set()).add(name.removeprefix("pin "))
        return {pin: frozenset(group) for group in found.values() for pin in group}
