"""A chart as lines of text: values one beside the other, lines to hold them against, and signals marked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rig.control.chart import EWMA_RULE, RANGE_RULE, ControlChart

VALUE, SIGNAL = "o", "X"
_LABEL = 9
_NAMES = 14
_WIDEST_STEP = 3
_NEAR = 0.6

Line = Sequence[float | None]


@dataclass(frozen=True, slots=True)
class Level:
    """A line across a chart, which may move from value to value; its `name` stands where it ends."""

    name: str
    at: Line
    sign: str


@dataclass(frozen=True, slots=True)
class ChartWords:
    """The words on a chart, in some language."""

    values: str = "values"
    ranges: str = "moving ranges"
    mean: str = "weighted mean of the latest values (EWMA)"
    upper: str = "upper limit"
    centre: str = "centre"
    lower: str = "lower limit"
    limit: str = "limit"
    left_out: str = "the last {shown} of {count}"
    nothing: str = "nothing to draw yet"
    decimal_mark: str = "."


ENGLISH = ChartWords()


def chart_lines(chart: ControlChart, unit: str, width: int, words: ChartWords = ENGLISH) -> list[str]:
    """The chart of values, below it that of moving ranges and of the weighted mean, as far as they are kept."""
    shown = shown_of(len(chart.values), width)
    marked = {one.at for one in chart.signals if one.rule not in (RANGE_RULE, EWMA_RULE)}
    lines = [f"{words.values}, {unit}{_left_out(len(chart.values), shown, words)}"]
    lines += plot(chart.values, tuple(_levels(chart, words)), marked, width, 13, words=words)
    if chart.baseline is not None:
        limit = Level(words.limit, (chart.baseline.range_limit,) * len(chart.values), "-")
        marked = {one.at for one in chart.signals if one.rule == RANGE_RULE}
        drawn = plot(chart.ranges, (limit,), marked, width, 6, floor=0.0, words=words)
        lines += ["", f"{words.ranges}, {unit}", *drawn]
    if any(one is not None for one in chart.smoothed):
        lines += ["", f"{words.mean}, {unit}", *_smoothed(chart, width, words)]
    return lines


def shown_of(count: int, width: int) -> int:
    """How many values there is room for; the latest are shown."""
    return min(count, max(1, width - _LABEL - _NAMES - 2))


def _left_out(count: int, shown: int, words: ChartWords) -> str:
    return f", {words.left_out.format(shown=shown, count=count)}" if shown < count else ""


def _levels(chart: ControlChart, words: ChartWords) -> Iterator[Level]:
    yield Level(words.upper, tuple(None if one is None else one[1] for one in chart.limits), "-")
    if chart.baseline is not None:
        centre = chart.baseline.centre
        yield Level(words.centre, tuple(None if one is None else centre for one in chart.limits), ".")
    yield Level(words.lower, tuple(None if one is None else one[0] for one in chart.limits), "-")


def _smoothed(chart: ControlChart, width: int, words: ChartWords) -> list[str]:
    means = tuple(None if one is None else one[0] for one in chart.smoothed)
    levels = (
        Level(words.upper, tuple(None if one is None else one[2] for one in chart.smoothed), "-"),
        Level(words.lower, tuple(None if one is None else one[1] for one in chart.smoothed), "-"),
    )
    marked = {one.at for one in chart.signals if one.rule == EWMA_RULE}
    return plot(means, levels, marked, width, 9, words=words)


def span_of(values: Line, lines: Sequence[Line], first: int) -> tuple[float, float] | None:
    """From where to where a chart has to reach, from an index on; None where there is nothing on it.

    All values and where the lines end; lines that began far outside, as limits do that are learnt, would squeeze them.
    """
    ends = [line[-1] for line in lines if line and line[-1] is not None]
    room = _NEAR * (max(ends) - min(ends)) if ends else 0.0
    near = (
        one
        for line in lines
        for one in line[first:]
        if one is not None and ends and min(ends) - room <= one <= max(ends) + room
    )
    known = [one for one in (*values[first:], *near) if one is not None]
    return (min(known), max(known)) if known else None


def plot(
    values: Line,
    levels: Sequence[Level],
    marked: set[int],
    width: int,
    rows: int,
    floor: float | None = None,
    words: ChartWords = ENGLISH,
) -> list[str]:
    """Draw values from left to right, `X` where they are marked, with lines across; no wider than `width`."""
    shown = shown_of(len(values), width)
    first = len(values) - shown
    step = max(1, min(_WIDEST_STEP, (width - _LABEL - _NAMES - 2) // max(shown, 1)))
    span = span_of(values, [level.at for level in levels], first)
    if span is None:
        return [f"  {words.nothing}"]
    low, high = span if floor is None else (floor, span[1])
    spread, rows = (high - low) or 1.0, rows if high > low else 1

    def row_of(value: float) -> int:
        return round((high - value) / spread * (rows - 1))

    field = [[" "] * (shown * step) for _ in range(rows)]
    names: dict[int, str] = {}
    for level in levels:
        for column, at in enumerate(level.at[first:]):
            if at is not None and low <= at <= high:
                field[row_of(at)][column * step : (column + 1) * step] = level.sign * step
        if (last := level.at[-1]) is not None:
            names[row_of(last)] = f" {level.name}"
    for column, value in enumerate(values[first:]):
        if value is not None:
            field[row_of(value)][column * step] = SIGNAL if first + column in marked else VALUE
    told = {row_of(one): one for one in (low, high, *(level.at[-1] for level in levels)) if one is not None}
    return [
        f"{_label(told.get(row), words):>{_LABEL}}|{''.join(cells)}{names.get(row, '')}".rstrip()
        for row, cells in enumerate(field)
    ]


def _label(value: float | None, words: ChartWords) -> str:
    if value is None:
        return ""
    text = f"{value:.3g} " if abs(value) >= 100 else f"{value:.2f} "
    return text.replace(".", words.decimal_mark)
