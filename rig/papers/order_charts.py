"""Charts of an order: deviations or readings of all its units, its faults by number, its run over time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.events import Verdict
from rig.papers.chart import Axis, Chart, Ink, Shape, Stroke, Words, box, diamond, triangle
from rig.papers.counts import Bin, Fault, Histogram, Sides
from rig.papers.tries import Try

_WIDTH = 182.0
_LEFT = 12.0
_ROW = 5.2
# More points than this stand so close that lines to either side would cover them.
_MOST_WITH_U = 80

_FILLS = {Verdict.GOOD: Ink.GOOD_PALE, Verdict.UNDECIDED: Ink.WHITE, Verdict.BAD: Ink.BAD}
_EDGES = {Verdict.GOOD: Ink.GOOD, Verdict.UNDECIDED: Ink.UNDECIDED, Verdict.BAD: Ink.BAD}


def histogram_chart(histogram: Histogram) -> Chart:
    """How many units deviate by how much, against the tolerance."""
    bins = histogram.bins
    across = Axis(bins[0].low_mm, bins[-1].high_mm, _LEFT, _WIDTH - 2)
    most = max(_of(one) for one in bins)
    up = Axis(0, most, 38, 12)
    shapes = [
        *_legend(x=_WIDTH - 56),
        *_counts_scale(up, most),
        *(shape for one in bins for shape in _column(one, across, up)),
        *_tolerance(across, histogram.tolerance_mm, 8, 38),
        *_scale_below(across, 38, f"deviation of the {histogram.edge} operate point at the machine, mm"),
    ]
    told = "; ".join(f"{_of(one)} from {one.low_mm:g} to {one.high_mm:g}" for one in bins if _of(one))
    return Chart(
        f"Deviations of the {histogram.edge} operate point",
        f"Units by deviation in mm: {told}. Tolerance {histogram.tolerance_mm:g} to either side.",
        _WIDTH,
        47,
        tuple(shapes),
    )


def _of(one: Bin) -> int:
    return one.good + one.undecided + one.bad


def _column(one: Bin, across: Axis, up: Axis) -> Iterator[Shape]:
    left, right = across.at(one.low_mm) + 0.3, across.at(one.high_mm) - 0.3
    base = 0
    for verdict, count in (
        (Verdict.GOOD, one.good),
        (Verdict.UNDECIDED, one.undecided),
        (Verdict.BAD, one.bad),
    ):
        if count:
            top, bottom = up.at(base + count), up.at(base)
            yield box(left, top, right - left, bottom - top, _FILLS[verdict], _EDGES[verdict])
            base += count
    if base:
        yield Words((left + right) / 2, up.at(base) - 0.8, str(base), 6.5)


def _counts_scale(up: Axis, most: int) -> Iterator[Shape]:
    for tick in up.ticks(4):
        if tick == int(tick):
            yield Stroke(_LEFT, up.at(tick), _WIDTH - 2, up.at(tick), Ink.LIGHT, 0.2)
            yield Words(_LEFT - 1.5, up.at(tick) + 0.9, f"{tick:g}", 7, "end")
    yield Words(0, up.at(most) - 3.2, "units", 7, "start", ink=Ink.GREY)


def _tolerance(across: Axis, tolerance_mm: float, top: float, bottom: float) -> Iterator[Shape]:
    for limit_mm in (-tolerance_mm, tolerance_mm):
        at = across.at(limit_mm)
        yield Stroke(at, top, at, bottom, Ink.BLACK, 0.45)
        yield Words(at, top - 0.8, f"{limit_mm:+g}", 7)
    yield Stroke(across.at(0), top + 2, across.at(0), bottom, Ink.GREY, 0.25, dashed=True)


def _scale_below(across: Axis, y: float, name: str) -> Iterator[Shape]:
    yield Stroke(across.start, y, across.end, y, Ink.BLACK, 0.35)
    for tick in across.ticks(12):
        at = across.at(tick)
        yield Stroke(at, y, at, y + 1, Ink.BLACK, 0.35)
        yield Words(at, y + 4, f"{tick:g}", 7)
    yield Words((across.start + across.end) / 2, y + 7.4, name, 7, ink=Ink.GREY)


def _legend(x: float) -> Iterator[Shape]:
    for verdict, wide in ((Verdict.GOOD, 14), (Verdict.UNDECIDED, 20), (Verdict.BAD, 0)):
        yield box(x, 0.6, 2.6, 2.6, _FILLS[verdict], _EDGES[verdict])
        yield Words(x + 4, 2.9, str(verdict), 7, "start", ink=Ink.GREY)
        x += wide


def sides_chart(sides: Sequence[Sides], units: int) -> Chart:
    """How many units were right at each check position."""
    across = Axis(0, max(units, 1), 66, _WIDTH - 46)
    shapes: list[Shape] = []
    for row, one in enumerate(sides):
        shapes += _sides_row(one, 2 + row * _ROW, across)
    told = "; ".join(f"{one.requirement}: {_sides_words(one)}" for one in sides)
    return Chart(
        "Readings at the check positions, over all units",
        f"{told}.",
        _WIDTH,
        2 + _ROW * len(sides),
        tuple(shapes),
    )


def _sides_row(one: Sides, y: float, across: Axis) -> Iterator[Shape]:
    where = "" if one.position_mm is None else f", {one.position_mm:.1f} mm"
    yield Words(0, y + 3, f"{one.requirement}{where}", 7, "start")
    yield box(across.start, y, across.end - across.start, _ROW - 1.4, Ink.PALE)
    base = 0
    for count, verdict in (
        (one.right, Verdict.GOOD),
        (one.unsteady, Verdict.UNDECIDED),
        (one.wrong, Verdict.BAD),
    ):
        if count:
            left, right = across.at(base), across.at(base + count)
            yield box(left, y, right - left, _ROW - 1.4, _FILLS[verdict], _EDGES[verdict])
            base += count
    yield Words(_WIDTH, y + 3, _sides_words(one), 7, "end", bold=one.wrong > 0)


def _sides_words(one: Sides) -> str:
    counts = (
        (one.right, "right"),
        (one.wrong, "wrong"),
        (one.unsteady, "not still"),
        (one.not_read, "not read"),
    )
    return ", ".join(f"{count} {words}" for count, words in counts if count or words == "right")


def faults_chart(faults: Sequence[Fault]) -> Chart:
    """The faults, most units first."""
    across = Axis(0, max(5, *(one.count for one in faults)), 52, _WIDTH - 8)
    shapes: list[Shape] = []
    for row, one in enumerate(faults):
        y, end = 1 + row * _ROW, across.at(one.count)
        shapes += (
            Words(0, y + 3, f"{one.reason.replace('-', ' ')}, {one.verdict}", 7.5, "start"),
            box(across.start, y, end - across.start, _ROW - 1.4, _FILLS[one.verdict], _EDGES[one.verdict]),
            Words(end + 1.5, y + 3, str(one.count), 7.5, "start", bold=True),
        )
    told = "; ".join(f"{one.reason.replace('-', ' ')}, {one.verdict}: {one.count}" for one in faults)
    return Chart("Faults by number of units", f"{told}.", _WIDTH, 1 + _ROW * len(faults), tuple(shapes))


def run_charts(tries: Sequence[Try], tolerance_mm: float | None) -> Iterator[Chart]:
    """The attempts in order of work: the deviation of every edge that was measured, and the time on the bench."""
    edges = sorted({deviation.edge for one in tries for deviation in one.deviations})
    for edge in edges if tolerance_mm is not None else ():
        assert tolerance_mm is not None, "asked for above"
        yield _deviation_run(tries, edge, tolerance_mm)
    if any(one.seconds is not None for one in tries):
        yield _time_run(tries)


def _deviation_run(tries: Sequence[Try], edge: str, tolerance_mm: float) -> Chart:
    found = [
        (number, one, deviation)
        for number, one in enumerate(tries, start=1)
        for deviation in one.deviations
        if deviation.edge == edge
    ]
    reach_mm = min(max(tolerance_mm, *(abs(deviation.value_mm) for *_, deviation in found)), 2 * tolerance_mm)
    up = Axis(-1.1 * reach_mm, 1.1 * reach_mm, 34, 4)
    across = Axis(0, len(tries) + 1, _LEFT, _WIDTH - 2)
    shapes: list[Shape] = [
        box(
            _LEFT,
            up.at(tolerance_mm),
            across.end - _LEFT,
            up.at(-tolerance_mm) - up.at(tolerance_mm),
            Ink.PALE,
        )
    ]
    for limit_mm in (-tolerance_mm, 0.0, tolerance_mm):
        shapes.append(
            Stroke(_LEFT, up.at(limit_mm), across.end, up.at(limit_mm), Ink.BLACK, 0.3, not limit_mm)
        )
        shapes.append(
            Words(_LEFT - 1.5, up.at(limit_mm) + 0.9, f"{limit_mm:+g}" if limit_mm else "0", 7, "end")
        )
    for number, one, deviation in found:
        at, y = across.at(number), up.at(deviation.value_mm)
        if len(found) <= _MOST_WITH_U and deviation.expanded_mm is not None:
            ends = [up.at(deviation.value_mm + sign * deviation.expanded_mm) for sign in (-1, 1)]
            shapes.append(Stroke(at, ends[0], at, ends[1], Ink.GREY, 0.25))
        shapes += _point(at, y, one.verdict)
    shapes += _numbers_below(across, 35)
    title = f"Deviation of the {edge} operate point at the machine in mm, in order of work"
    beyond = sum(abs(deviation.value_mm) > -up.low for *_, deviation in found)
    if beyond:
        title += f"; {beyond} farther out, drawn at the edge"
    told = f"{len(found)} attempts, first to last; tolerance {tolerance_mm:g} to either side."
    return Chart(title, told, _WIDTH, 42, tuple(shapes))


def _time_run(tries: Sequence[Try]) -> Chart:
    longest_s = max(one.seconds or 0.0 for one in tries)
    up = Axis(0, longest_s * 1.08 or 1.0, 26, 4)
    across = Axis(0, len(tries) + 1, _LEFT, _WIDTH - 2)
    shapes: list[Shape] = []
    for tick in up.ticks(4):
        shapes.append(Stroke(_LEFT, up.at(tick), across.end, up.at(tick), Ink.LIGHT, 0.2))
        shapes.append(Words(_LEFT - 1.5, up.at(tick) + 0.9, f"{tick:g}", 7, "end"))
    for number, one in enumerate(tries, start=1):
        if one.seconds is not None:
            shapes += _point(across.at(number), up.at(one.seconds), one.verdict)
    shapes += _numbers_below(across, 27)
    shapes += _points_legend(_WIDTH - 56)
    told = f"{len(tries)} attempts, first to last; the longest took {longest_s:.1f} s."
    return Chart("Seconds on the bench until the verdict, in order of work", told, _WIDTH, 34, tuple(shapes))


def _point(x: float, y: float, verdict: Verdict | None) -> Iterator[Shape]:
    """Every verdict has a shape of its own."""
    match verdict:
        case Verdict.GOOD:
            yield diamond(x, y, 0.9, Ink.GOOD)
        case Verdict.BAD:
            yield Stroke(x - 1.1, y - 1.1, x + 1.1, y + 1.1, Ink.BAD, 0.5)
            yield Stroke(x - 1.1, y + 1.1, x + 1.1, y - 1.1, Ink.BAD, 0.5)
        case _:
            yield triangle(x, y, 1.3, Ink.WHITE, Ink.UNDECIDED)


def _points_legend(x: float) -> Iterator[Shape]:
    for verdict, wide in ((Verdict.GOOD, 14), (Verdict.UNDECIDED, 20), (Verdict.BAD, 0)):
        yield from _point(x + 1, 2.0, verdict)
        yield Words(x + 4, 2.9, str(verdict), 7, "start", ink=Ink.GREY)
        x += wide


def _numbers_below(across: Axis, y: float) -> Iterator[Shape]:
    yield Stroke(across.start, y, across.end, y, Ink.BLACK, 0.35)
    for tick in across.ticks(16):
        if tick == int(tick) and tick:
            yield Stroke(across.at(tick), y, across.at(tick), y + 1, Ink.BLACK, 0.35)
            yield Words(across.at(tick), y + 4, f"{tick:g}", 7)
    yield Words((across.start + across.end) / 2, y + 6.8, "attempt", 7, ink=Ink.GREY)
