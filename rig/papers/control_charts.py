"""Control charts on paper: single values with their limits, moving ranges, and the exponentially weighted mean."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rig.control.chart import EWMA_RULE, RANGE_RULE, ControlChart
from rig.control.plot import span_of
from rig.papers.chart import Axis, Chart, Ink, Shape, Stroke, Words, diamond

_WIDTH = 182.0
_LEFT, _RIGHT = 14.0, 26.0
_MOST = 200
"""So many of the latest values are drawn; more could not be told apart."""
_MOST_MARKED = 120

Line = Sequence[float | None]


@dataclass(frozen=True, slots=True)
class _Panel:
    """One chart: values, lines to hold them against by name, and where signals are."""

    values: Line
    lines: dict[str, Line]
    marked: frozenset[int]
    first: int
    height: float
    restarts: tuple[int, ...] = ()


def control_charts(chart: ControlChart, whose: str, unit: str, counted: str) -> Iterator[Chart]:
    """The three charts; `whose` names what is charted, `counted` what stands along them."""
    first = max(0, len(chart.values) - _MOST)
    left_out = f", the last {_MOST} of {len(chart.values)}" if first else ""
    yield _values(chart, f"{whose}, {unit}{left_out}", counted, first)
    if chart.baseline is None:
        return
    yield _ranges(chart, f"Moving ranges, from each value to the next, {unit}", counted, first)
    if any(one is not None for one in chart.smoothed):
        yield _mean(chart, f"Weighted mean of the latest values (EWMA), {unit}", counted, first)


def _values(chart: ControlChart, title: str, counted: str, first: int) -> Chart:
    lines: dict[str, Line] = {
        "upper limit": [None if one is None else one[1] for one in chart.limits],
        "lower limit": [None if one is None else one[0] for one in chart.limits],
    }
    if chart.baseline is not None:
        centre = chart.baseline.centre
        lines["centre"] = [None if one is None else centre for one in chart.limits]
    marked = frozenset(one.at for one in chart.signals if one.rule not in (RANGE_RULE, EWMA_RULE))
    return _drawn(_Panel(chart.values, lines, marked, first, 46, chart.restarts), title, counted)


def _ranges(chart: ControlChart, title: str, counted: str, first: int) -> Chart:
    assert chart.baseline is not None, "asked for only where there are limits"
    limit = chart.baseline.range_limit
    marked = frozenset(one.at for one in chart.signals if one.rule == RANGE_RULE)
    panel = _Panel(chart.ranges, {"limit": [limit] * len(chart.values)}, marked, first, 26)
    return _drawn(panel, title, counted, floor=0.0)


def _mean(chart: ControlChart, title: str, counted: str, first: int) -> Chart:
    told = chart.smoothed
    lines: dict[str, Line] = {
        "upper limit": [None if one is None else one[2] for one in told],
        "lower limit": [None if one is None else one[1] for one in told],
    }
    marked = frozenset(one.at for one in chart.signals if one.rule == EWMA_RULE)
    panel = _Panel([None if one is None else one[0] for one in told], lines, marked, first, 34)
    return _drawn(panel, title, counted)


def _drawn(panel: _Panel, title: str, counted: str, floor: float | None = None) -> Chart:
    shown = range(panel.first, len(panel.values))
    span = span_of(panel.values, list(panel.lines.values()), panel.first)
    assert span is not None, "there are values on every chart"
    low, high = span if floor is None else (floor, span[1])
    spare = 0.06 * ((high - low) or 1.0)
    bottom = panel.height - 8.5
    up = Axis(low - (0 if floor is not None else spare), high + spare, bottom, 3)
    across = Axis(panel.first, max(len(panel.values), panel.first + 2) + 1, _LEFT, _WIDTH - _RIGHT)
    shapes = [
        *_scale(up, across),
        *(shape for name, line in panel.lines.items() for shape in _limit(name, line, shown, across, up)),
        *_looked(panel, across, up),
        *_run(panel, shown, across, up),
        *_numbers(across, bottom, counted),
    ]
    told = ", ".join(
        f"{name} {line[-1]:.3f}" for name, line in panel.lines.items() if line and line[-1] is not None
    )
    places = ", ".join(str(at + 1) for at in sorted(panel.marked)) or "none"
    words = f"{len(shown)} values, {told or 'no limits yet'}. Signals at: {places}."
    return Chart(title, words, _WIDTH, panel.height, tuple(shapes))


def _scale(up: Axis, across: Axis) -> Iterator[Shape]:
    yield Stroke(across.start, up.start, across.start, up.end, Ink.BLACK, 0.3)
    for tick in up.ticks(5):
        yield Stroke(across.start - 1, up.at(tick), across.start, up.at(tick), Ink.BLACK, 0.3)
        yield Words(across.start - 2, up.at(tick) + 0.9, f"{tick:g}", 7, "end")


def _limit(name: str, line: Line, shown: range, across: Axis, up: Axis) -> Iterator[Shape]:
    """A line of limits in steps, left out where it lies beyond what is drawn."""
    dashed = name != "centre"
    ink = Ink.UNDECIDED if dashed else Ink.GREY
    for i in shown:
        at = line[i]
        if at is not None and up.low <= at <= up.high:
            yield Stroke(across.at(i + 0.5), up.at(at), across.at(i + 1.5), up.at(at), ink, 0.35)
    last = line[-1]
    if last is not None:
        told = f"{last:.2f}" if name == "limit" else f"{last:+.2f}"  # a range has no sign
        yield Words(across.end + 1.5, up.at(last) + 0.9, f"{name} {told}", 7, "start", ink=ink)


def _looked(panel: _Panel, across: Axis, up: Axis) -> Iterator[Shape]:
    """Where somebody has looked, and counting begins anew."""
    for at in panel.restarts:
        if at > panel.first:
            x = across.at(at + 0.5)
            yield Stroke(x, up.start, x, up.end, Ink.GREY, 0.3, dashed=True)
            yield Words(x, up.end - 0.6, "looked into", 6.5, ink=Ink.GREY)


def _run(panel: _Panel, shown: range, across: Axis, up: Axis) -> Iterator[Shape]:
    """The values, joined; every signal has a mark of its own shape, not only of its colour."""
    for i in shown:
        value, before = panel.values[i], panel.values[i - 1] if i > panel.first else None
        if value is None:
            continue
        x, y = across.at(i + 1), up.at(value)
        if before is not None:
            yield Stroke(across.at(i), up.at(before), x, y, Ink.GREY, 0.2)
        if i in panel.marked:
            yield Stroke(x - 1.2, y - 1.2, x + 1.2, y + 1.2, Ink.BAD, 0.55)
            yield Stroke(x - 1.2, y + 1.2, x + 1.2, y - 1.2, Ink.BAD, 0.55)
        elif len(shown) <= _MOST_MARKED:
            yield diamond(x, y, 0.8, Ink.BLACK)


def _numbers(across: Axis, y: float, counted: str) -> Iterator[Shape]:
    yield Stroke(across.start, y, across.end, y, Ink.BLACK, 0.3)
    for tick in across.ticks(16):
        if tick == int(tick) and 0 < tick < across.high:
            yield Stroke(across.at(tick), y, across.at(tick), y + 1, Ink.BLACK, 0.3)
            yield Words(across.at(tick), y + 4, f"{tick:g}", 7)
    yield Words(across.end + 1.5, y + 4, counted, 7, "start", ink=Ink.GREY)
