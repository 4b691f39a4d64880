"""A measured unit on the terminal: each edge drawn against its limits, and every figure with its uncertainty."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from rig.cli.layout import Page
from rig.cli.table import verdict_words
from rig.deciding.requirement import Figure
from rig.deciding.rule import SHOWN, decimals_of, span_words
from rig.edges.edge import Edge
from rig.events import EdgeMeasured, FigureMeasured, RequirementJudged
from rig.planning.drawing import Bar, Mark, Row, Span, TooNarrow, draw
from rig.planning.planned import EDGE_NAMES
from rig.statistics.conformity import Interval
from rig.summary import EdgeSummary, UnitSummary

_COLUMNS = (">measured", "allowed", "verdict")
_DEVIATION = "deviation"


def print_measured(units: Iterable[UnitSummary], page: Page) -> None:
    """One section for each unit that was measured; nothing for the others."""
    for unit in units:
        if unit.edges:
            _print_unit(unit, page)


def _print_unit(unit: UnitSummary, page: Page) -> None:
    page.heading(verdict_words(unit))
    for edge in unit.edges.values():
        _print_edge(unit, edge, page)
        page.lines([""])
    rows = [_figure_cells(unit, one) for one in unit.figures if not one.name.startswith(_DEVIATION)]
    if rows:
        page.table(("unit", *_COLUMNS), rows)


def _print_edge(unit: UnitSummary, edge: EdgeSummary, page: Page) -> None:
    name, found = EDGE_NAMES[Edge(edge.edge)], edge.found
    if found is None:
        page.say(f"{name} not measured: {edge.trouble or 'cut short'}")
        return
    limits = {
        figure: (one.low, one.high)
        for figure in (Figure.OPERATE, Figure.RELEASE)
        if (one := unit.requirement(f"{figure}, {edge.edge}")) is not None
    }
    page.lines(edge_drawing(found, limits, page.width))
    page.table((name, *_COLUMNS), list(_edge_rows(unit, edge.edge, found)))
    before = dict.fromkeys(method for method in edge.methods if method != found.method)
    begun = "".join(f"{method} left it open, so anew " for method in before)
    effort = f"{begun}{found.method}: {found.readings} readings, {found.moves} moves, {edge.seconds:.1f} s"
    page.say(f"{effort}; U 95 %, wanted {edge.wanted_mm:.2f} mm")


Limits = dict[Figure, tuple[float | None, float | None]]


def edge_drawing(found: EdgeMeasured, limits: Limits, width: int) -> list[str]:
    """Operate and release point with their uncertainty, against what is allowed; distances on the bench."""
    points = (
        Span(
            found.operate_mm - found.operate_u_mm, found.operate_mm + found.operate_u_mm, "O", "operate point"
        ),
        Span(
            found.release_mm - found.release_u_mm, found.release_mm + found.release_u_mm, "R", "release point"
        ),
    )
    low_mm, high_mm = limits.get(Figure.OPERATE, (None, None))
    lets_go = [limit for limit in limits.get(Figure.RELEASE, ()) if limit is not None]
    known = [mm for mm in (low_mm, high_mm, *lets_go) if mm is not None]
    ends = [*known, *(end for span in points for end in (span.start_mm, span.end_mm))]
    more_mm = max((max(ends) - min(ends)) / 12, 1.0)
    start_mm, end_mm = min(ends) - more_mm, max(ends) + more_mm
    allowed = Span(
        start_mm if low_mm is None else low_mm,
        end_mm if high_mm is None else high_mm,
        "+",
        "operate point allowed",
    )
    lines: list[Bar | Row] = [
        Bar("allowed", (allowed,) if low_mm is not None or high_mm is not None else ()),
        Bar("measured", points),
    ]
    if lets_go:
        lines.append(Row("release", tuple(Mark(mm, "limit") for mm in lets_go), "^"))
    try:
        return draw(start_mm, end_mm, lines, width=width)
    except TooNarrow as narrow:
        return [f"(no drawing: {narrow})"]


def _edge_rows(unit: UnitSummary, edge: str, found: EdgeMeasured) -> Iterator[tuple[str, ...]]:
    """Every figure of an edge: measured, allowed, and the verdict where it is judged."""
    for figure, value, expanded, shown in (
        (Figure.OPERATE, found.operate_mm, found.operate_u_mm, "mm"),
        (Figure.RELEASE, found.release_mm, found.release_u_mm, "mm"),
        (Figure.TRAVEL, found.travel_mm, found.travel_u_mm, "mm"),
        (Figure.REPEAT, found.repeat_mm, None, "mm"),
        (Figure.RESPONSE_ON, found.response_on_s, found.response_on_u_s, "s"),
        (Figure.RESPONSE_OFF, found.response_off_s, found.response_off_u_s, "s"),
    ):
        if value is not None:
            judged = unit.requirement(f"{figure}, {edge}")
            told = value if judged is None or judged.value is None else judged.value
            certain = expanded if judged is None or judged.expanded is None else judged.expanded
            yield (str(figure), with_uncertainty(told, certain, shown), *_judged_cells(judged))
        if figure is Figure.OPERATE:
            yield from _deviation_rows(unit, edge)


def _deviation_rows(unit: UnitSummary, edge: str) -> Iterator[tuple[str, ...]]:
    for one in unit.figures:
        what, _, of = one.name.partition(", ")
        if what.startswith(_DEVIATION) and of == edge and one.value is not None:
            yield (f"  {what}", with_uncertainty(one.value, one.expanded, one.unit, sign=True), "", "")


def _figure_cells(unit: UnitSummary, figure: FigureMeasured) -> tuple[str, ...]:
    judged = unit.requirement(figure.name)
    if figure.value is None:
        return (figure.name, "this bench cannot tell", "", "" if judged is None else str(judged.verdict))
    return (figure.name, with_uncertainty(figure.value, figure.expanded, figure.unit), *_judged_cells(judged))


def _judged_cells(one: RequirementJudged | None) -> tuple[str, str]:
    if one is None:
        return "", "told only"
    return span_words(Interval.of(one.low, one.high), one.unit), str(one.verdict)


def with_uncertainty(value: float, expanded: float | None, unit: str, *, sign: bool = False) -> str:
    """A value with its expanded uncertainty, to two digits of that; without it to two decimals."""
    shown, factor = SHOWN.get(unit, (unit, 1.0))
    if expanded is None:
        return f"{value * factor:.2f} {shown}"
    decimals = decimals_of(expanded * factor)
    return (
        f"{value * factor:{'+' if sign else ''}.{decimals}f} \u00b1 {expanded * factor:.{decimals}f} {shown}"
    )
