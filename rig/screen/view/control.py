"""What the screen says of the check unit and of the order in hand: how they stand, charts, signals, what they mean."""

from __future__ import annotations

from collections.abc import Iterator

from rig.control.chart import ControlChart
from rig.control.check_unit import Account, State
from rig.control.plot import SIGNAL, ChartWords, chart_lines
from rig.control.said import by_rule, places_of
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.view.wording import Words

ROLES = {
    State.NOT_MEASURED: Role.WARN,
    State.SIGNAL: Role.BAD,
    State.NO_RESULT: Role.WARN,
    State.NOT_AGAIN: Role.WARN,
    State.LEARNING: Role.GOOD,
    State.IN_CONTROL: Role.GOOD,
}
MARKS = {Role.GOOD: "+", Role.WARN: "?", Role.BAD: "x"}
_MOST_LINES = 4


def standing_line(account: Account, words: Words) -> tuple[str, Role]:
    """How a check unit stands, with its mark."""
    role = ROLES[account.state]
    said = words(f"control.{account.state}", count=len(account.measured))
    return f"{MARKS[role]} {said}", role


def account_lines(account: Account, words: Words, width: int) -> Iterator[Line]:
    """A check unit with its charts, and who has looked into its signals."""
    unit, last = account.unit, account.last
    person = unit.person or words("control.nobody")
    yield line(Span(words("control.kept", serial=unit.serial, day=unit.utc[:10], person=person), Role.DIM))
    if last is not None:
        when = last.utc[:16].replace("T", " ")
        who = last.person or words("control.nobody")
        yield line(Span(words("control.last", count=len(account.measured), when=when, person=who), Role.DIM))
    for edge, chart in account.charts.items():
        yield line()
        yield line(Span(words("control.edge", edge=words.of("edge", edge)), Role.STRONG))
        yield from charted_lines(chart, words, width)
    if account.looked:
        yield line()
        yield line(Span(words("control.looked"), Role.STRONG))
    for one in account.looked:
        cause = words(f"cause.{one.cause}")
        text = f"{one.utc[:16].replace('T', ' ')} {one.person}: {one.found} ({cause})"
        yield from (line(row) for row in wrapped(text, width, _MOST_LINES) if row)


def charted_lines(chart: ControlChart, words: Words, width: int) -> Iterator[Line]:
    """A chart with its limits and signals."""
    for row in chart_lines(chart, "mm", width, _chart_words(words)):
        yield _marked(row)
    base = chart.baseline
    if base is not None:
        low, high = base.limits() if chart.fixed else base.limits_of_next()
        told = {"centre": base.centre, "low": low, "high": high, "sigma": base.sigma}
        said = {name: words.number(value, 3) for name, value in told.items()}
        yield line(Span(words("control.limits" if chart.fixed else "control.learnt", **said), Role.DIM))
    for rule, own in by_rule(chart.signals).items():
        text = f"x {places_of(own)}: {words(f'rule.{rule}')}. {words(f'often.{rule}')}"
        yield from (line(Span(row, Role.BAD)) for row in wrapped(text, width, _MOST_LINES) if row)


def _marked(row: str) -> Line:
    """A row of a chart, with its signals set off."""
    name, bar, field = row.partition("|")
    if not bar or SIGNAL not in field:
        return line(row)
    parts = field.split(SIGNAL)
    spans: list[Span | str] = [f"{name}{bar}{parts[0]}"]
    for part in parts[1:]:
        spans += (Span(SIGNAL, Role.BAD), part)
    return line(*spans)


def _chart_words(words: Words) -> ChartWords:
    keys = ("values", "ranges", "mean", "upper", "centre", "lower", "limit", "nothing")
    said = {key: words(f"chart.{key}") for key in keys}
    return ChartWords(**said, left_out=words("chart.left-out"), decimal_mark=words.decimal_mark)
