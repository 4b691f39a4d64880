"""Where a unit switches, against its tolerance, to scale: its measured edges, or the positions at which it was read."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from rig.papers.certificate_facts import CertificateFacts, EdgeFacts
from rig.papers.chart import Anchor, Axis, Chart, Ink, Shape, Stroke, Words, box, diamond, triangle
from rig.papers.setting_facts import PointFacts, SettingFacts
from rig.summary import CheckSummary

_WIDTH = 182.0
_GAP = 8.0
_EDGE_HEIGHT, _CHECKS_HEIGHT = 35.0, 29.0
_BAND_TOP, _BAND_HEIGHT = 9.0, 14.5
_STATES = {True: "on", False: "off", None: "neither"}


def unit_chart(facts: CertificateFacts) -> Chart | None:
    """The chart of a unit; None where nothing was read that could be drawn."""
    if facts.edges:
        panels = [list(_edge_panel(edge, frame)) for edge, frame in _side_by_side(facts.edges)]
        told = "; ".join(_edge_told(edge) for edge in facts.edges)
        return Chart(
            "Switching points against the tolerance",
            f"To scale, in mm on the bench from the sensing face. {told}.",
            _WIDTH,
            _EDGE_HEIGHT,
            tuple(shape for panel in panels for shape in panel),
        )
    return _checks_chart(facts)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Left and right end of a panel, in mm."""

    left: float
    right: float

    @property
    def middle(self) -> float:
        return (self.left + self.right) / 2


def _side_by_side(edges: Sequence[EdgeFacts]) -> Iterator[tuple[EdgeFacts, _Frame]]:
    nearest_first = sorted(edges, key=lambda edge: edge.operate_mm)
    yield from zip(nearest_first, _frames(len(edges)), strict=True)


def _frames(count: int) -> Iterator[_Frame]:
    width = (_WIDTH - (count - 1) * _GAP) / count
    for index in range(count):
        left = index * (width + _GAP)
        yield _Frame(left + 2, left + width - 2)


def _edge_told(edge: EdgeFacts) -> str:
    low = "" if edge.low_mm is None else f" from {edge.low_mm:.6g}"
    high = "" if edge.high_mm is None else f" to {edge.high_mm:.6g}"
    return (
        f"{edge.name}: operate point at {edge.operate_mm:.2f}, allowed{low}{high}; "
        f"release point at {edge.release_mm:.2f}"
    )


def _edge_axis(edge: EdgeFacts, frame: _Frame) -> Axis:
    known = [
        one
        for one in (edge.low_mm, edge.high_mm, edge.release_low_mm, edge.release_high_mm, edge.set_point_mm)
        if one is not None
    ]
    spans = (
        (edge.operate_mm, edge.operate_u_mm),
        (edge.release_mm, edge.release_u_mm),
    )
    ends = known + [at_mm + side * u_mm for at_mm, u_mm in spans for side in (-1, 1)]
    margin = max((max(ends) - min(ends)) * 0.12, 1.0)
    return Axis(min(ends) - margin, max(ends) + margin, frame.left, frame.right)


def _edge_panel(edge: EdgeFacts, frame: _Frame) -> Iterator[Shape]:
    axis = _edge_axis(edge, frame)
    yield Words(frame.left, 3, edge.name, 8.5, "start", bold=True)
    yield from _tolerance(axis, edge.low_mm, edge.high_mm, edge.guard_mm or 0.0)
    if edge.set_point_mm is not None:
        yield from _set_point(axis, edge.set_point_mm)
    for limit_mm in (edge.release_low_mm, edge.release_high_mm):
        if limit_mm is not None:
            yield from _release_limit(axis, limit_mm)
    yield from _measured(axis, edge.operate_mm, edge.operate_u_mm, 13.0, diamond)
    yield from _measured(axis, edge.release_mm, edge.release_u_mm, 19.5, triangle)
    yield from _ruler(axis, _BAND_TOP + _BAND_HEIGHT + 1.5)
    yield from _edge_legend(frame)


def _tolerance(axis: Axis, low_mm: float | None, high_mm: float | None, guard_mm: float) -> Iterator[Shape]:
    """The tolerance with what the guard leaves of it; open where there is no limit."""
    if low_mm is None and high_mm is None:
        return
    start, end = (
        axis.at(axis.low if low_mm is None else low_mm),
        axis.at(axis.high if high_mm is None else high_mm),
    )
    yield box(start, _BAND_TOP, end - start, _BAND_HEIGHT, Ink.UNDECIDED_PALE)
    inner_start = start if low_mm is None else axis.at(low_mm + guard_mm)
    inner_end = end if high_mm is None else axis.at(high_mm - guard_mm)
    if inner_end > inner_start:
        yield box(inner_start, _BAND_TOP, inner_end - inner_start, _BAND_HEIGHT, Ink.GOOD_PALE)
    for limit_mm in (low_mm, high_mm):
        if limit_mm is not None:
            at = axis.at(limit_mm)
            yield Stroke(at, _BAND_TOP - 1, at, _BAND_TOP + _BAND_HEIGHT, Ink.BLACK, 0.45)
            yield Words(at, _BAND_TOP - 1.6, f"{limit_mm:.6g}", 7)


def _set_point(axis: Axis, at_mm: float) -> Iterator[Shape]:
    at = axis.at(at_mm)
    yield Stroke(at, _BAND_TOP - 1, at, _BAND_TOP + _BAND_HEIGHT + 1.5, Ink.GREY, 0.25, dashed=True)
    yield Words(at, _BAND_TOP - 1.6, f"{at_mm:.6g}", 7, ink=Ink.GREY)


def _release_limit(axis: Axis, at_mm: float) -> Iterator[Shape]:
    at = axis.at(at_mm)
    yield Stroke(at, 17.0, at, _BAND_TOP + _BAND_HEIGHT, Ink.GREY, 0.45, dashed=True)
    anchor = _towards_middle(axis, at)
    yield Words(at, 16.2, f"release limit {at_mm:.6g}", 6.5, anchor, ink=Ink.GREY)


def _towards_middle(axis: Axis, at: float) -> Anchor:
    share = (at - axis.start) / (axis.end - axis.start)
    return "start" if share < 0.25 else "end" if share > 0.75 else "middle"


def _measured(
    axis: Axis, at_mm: float, u_mm: float, y: float, marker: Callable[..., Shape]
) -> Iterator[Shape]:
    """A value with its uncertainty to either side."""
    low, high = axis.at(at_mm - u_mm), axis.at(at_mm + u_mm)
    yield Stroke(low, y, high, y, Ink.BLACK, 0.35)
    for end in (low, high):
        yield Stroke(end, y - 0.9, end, y + 0.9, Ink.BLACK, 0.35)
    yield _marker(axis.at(at_mm), y, marker)


def _marker(x: float, y: float, marker: Callable[..., Shape]) -> Shape:
    return marker(x, y, 1.2, Ink.BLACK if marker is diamond else Ink.WHITE, Ink.BLACK)


def _edge_legend(frame: _Frame) -> Iterator[Shape]:
    """What the signs mean, at the right of the panel's title."""
    x = frame.right - 58.0
    for name, wide in (("operate", 12.5), ("release", 12.5), ("tolerance", 15.0), ("guard, U", 0.0)):
        match name:
            case "operate" | "release":
                yield _marker(x, 2.0, diamond if name == "operate" else triangle)
            case _:
                yield box(
                    x - 1.2, 0.8, 2.4, 2.4, Ink.GOOD_PALE if name == "tolerance" else Ink.UNDECIDED_PALE
                )
        yield Words(x + 2, 2.9, name, 6.5, "start", ink=Ink.GREY)
        x += wide


def _ruler(axis: Axis, y: float) -> Iterator[Shape]:
    yield Stroke(axis.start, y, axis.end, y, Ink.BLACK, 0.35)
    for tick in axis.ticks(7):
        at = axis.at(tick)
        yield Stroke(at, y, at, y + 1, Ink.BLACK, 0.35)
        yield Words(at, y + 4, f"{tick:g}", 7)
    yield Words(
        (axis.start + axis.end) / 2, y + 7.2, "mm on the bench from the sensing face", 6.5, ink=Ink.GREY
    )


def _checks_chart(facts: CertificateFacts) -> Chart | None:
    stood = [one for one in facts.checks if one.position_mm is not None]
    if not stood:
        return None
    points = facts.setting.points
    frames = list(_frames(max(len(points), 1)))
    shapes = [
        shape
        for point, frame in zip(points or (None,), frames, strict=True)
        for shape in _checks_panel(stood, point, facts.setting, frame)
    ]
    told = "; ".join(f"{_STATES[one.read_on]} at {one.position_mm:.1f}" for one in stood)
    return Chart(
        "Readings against the tolerance",
        f"To scale, in mm on the bench from the sensing face. The output was {told}.",
        _WIDTH,
        _CHECKS_HEIGHT,
        tuple(shapes),
    )


def _checks_panel(
    stood: Sequence[CheckSummary], point: PointFacts | None, setting: SettingFacts, frame: _Frame
) -> Iterator[Shape]:
    """The readings about one set point, or all of them where there is none."""
    if point is None:
        far_mm = max(one.position_mm or 0.0 for one in stood)
        axis = Axis(0.0, far_mm * 1.1, frame.left, frame.right)
        yield Words(frame.left, 3, "the whole range", 8.5, "start", bold=True)
    else:
        half_mm = (setting.tolerance_mm or 0.0) * setting.scale
        low_mm, high_mm = point.bench_mm - half_mm, point.bench_mm + half_mm
        near = [
            one.position_mm for one in stood if abs((one.position_mm or 0.0) - point.bench_mm) <= 4 * half_mm
        ]
        ends = [low_mm, high_mm, *(at_mm for at_mm in near if at_mm is not None)]
        margin = 0.3 * half_mm
        axis = Axis(min(ends) - margin, max(ends) + margin, frame.left, frame.right)
        yield Words(frame.left, 3, point.name, 8.5, "start", bold=True)
        yield from _limits(axis, low_mm, high_mm, point.bench_mm)
    inside = [one for one in stood if axis.low <= (one.position_mm or 0.0) <= axis.high]
    yield from _readings(axis, inside)
    yield from _ruler(axis, 20.0)
    yield from _checks_legend(frame)


def _limits(axis: Axis, low_mm: float, high_mm: float, point_mm: float) -> Iterator[Shape]:
    start, end = axis.at(low_mm), axis.at(high_mm)
    yield box(start, 9, end - start, 9.5, Ink.GOOD_PALE)
    for limit_mm in (low_mm, high_mm):
        at = axis.at(limit_mm)
        yield Stroke(at, 8, at, 18.5, Ink.BLACK, 0.45)
        yield Words(at, 7.4, f"{limit_mm:.6g}", 7)
    at = axis.at(point_mm)
    yield Stroke(at, 8, at, 20, Ink.GREY, 0.25, dashed=True)
    yield Words(at, 7.4, f"{point_mm:.6g}", 7, ink=Ink.GREY)


def _readings(axis: Axis, stood: Sequence[CheckSummary]) -> Iterator[Shape]:
    """A square for each reading with its word below; what was read alike at one place is drawn once."""
    row_ends = [axis.start - 20.0] * 2
    alike = {(one.position_mm or 0.0, one.read_on, one.expected_on): one for one in stood}
    for (at_mm, read_on, expected_on), _ in sorted(alike.items(), key=lambda known: known[0][0]):
        at, right = axis.at(at_mm), read_on is expected_on
        yield from _square(at, read_on, right=right)
        words = _STATES[read_on] if right else f"{_STATES[read_on]}, wrong"
        half = 0.6 * len(words) + 0.8
        row = 0 if at - half > row_ends[0] else 1
        row_ends[row] = at + half
        yield Words(at, 14.6 + 2.8 * row, words, 7, bold=not right, ink=Ink.BLACK if right else Ink.BAD)


def _square(at: float, read_on: bool | None, *, right: bool) -> Iterator[Shape]:
    """Filled where the output was on; crossed where that was wrong."""
    ink = Ink.BLACK if right else Ink.BAD
    yield box(at - 0.9, 10, 1.8, 1.8, ink if read_on else Ink.WHITE, ink)
    if not right:
        yield Stroke(at - 1.6, 9.3, at + 1.6, 12.5, Ink.BAD, 0.4)
        yield Stroke(at - 1.6, 12.5, at + 1.6, 9.3, Ink.BAD, 0.4)


def _checks_legend(frame: _Frame) -> Iterator[Shape]:
    x = frame.right - 59.0
    yield box(x - 0.9, 1.1, 1.8, 1.8, Ink.BLACK, Ink.BLACK)
    yield Words(x + 2, 2.9, "output on", 6.5, "start", ink=Ink.GREY)
    yield box(x + 16.1, 1.1, 1.8, 1.8, Ink.WHITE, Ink.BLACK)
    yield Words(x + 19, 2.9, "output off", 6.5, "start", ink=Ink.GREY)
    yield box(x + 34, 0.8, 2.4, 2.4, Ink.GOOD_PALE)
    yield Words(x + 37.5, 2.9, "tolerance", 6.5, "start", ink=Ink.GREY)
