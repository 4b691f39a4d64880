"""The ruler: face, blind zone, zone, set points, tolerance, target and measured edges, to scale on the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rig.events import EdgeMeasured
from rig.planning.drawing import Bar, Mark, Row, Span, TooNarrow, draw
from rig.planning.plan import Plan
from rig.screen.view.lines import Line, Role, line
from rig.screen.view.lines import Span as Words_
from rig.screen.view.wording import Words
from sequences.sensor_type import SensorType
from wiring.terms import OutputFunction

_MORE = 1.03
# The close look shows this many tolerances to either side.
_CLOSE = 4.0
_BAR_ROLES = {"x": Role.WARN, "=": Role.STRONG, "+": Role.GOOD, ".": Role.DIM}


@dataclass(frozen=True, slots=True)
class Marks:
    """What moves: where the target should be, where the rig knows that it is, and what was measured."""

    wanted_mm: float | None = None
    target_mm: float | None = None
    edges: Sequence[EdgeMeasured] = ()


def ruler(plan: Plan, sensor_type: SensorType, words: Words, width: int, marks: Marks) -> list[Line]:
    """The whole way from the face to the end of the range, as lines, the legend last."""
    range_mm = sensor_type.sensing.range_mm * _scale(plan)
    bars: list[Bar | Row] = [
        Bar(words("ruler.zone"), _zone(plan, sensor_type, words)),
        *_rows(plan, words, marks),
    ]
    end_mm = max([range_mm, *(at for at in (marks.wanted_mm, marks.target_mm) if at is not None)]) * _MORE
    return _drawn(0.0, end_mm, bars, words, width)


def close_ruler(plan: Plan, words: Words, width: int, marks: Marks) -> list[Line]:
    """A close look at the set point that the target is nearest to; nothing for a mode without one."""
    points_mm = _points(plan)
    if not points_mm:
        return []
    near_mm = next((at for at in (marks.wanted_mm, marks.target_mm) if at is not None), points_mm[-1])
    point_mm = min(points_mm, key=lambda at_mm: abs(at_mm - near_mm))
    half_mm = plan.tolerance_mm * _scale(plan) * _CLOSE
    return _drawn(max(0.0, point_mm - half_mm), point_mm + half_mm, _rows(plan, words, marks), words, width)


def both_rulers(
    plan: Plan, sensor_type: SensorType, words: Words, width: int, marks: Marks, *, rows: int, close: int
) -> list[Line]:
    """The whole way, and in the last `close` of the rows a close look at the set point that is worked on."""
    room = rows - close
    whole = ruler(plan, sensor_type, words, width, marks)[:room]
    near = close_ruler(plan, words, width, marks)[:close]
    return [*whole, *[()] * (room - len(whole)), *near]


def _rows(plan: Plan, words: Words, marks: Marks) -> list[Bar | Row]:
    points = tuple(Mark(at_mm, words.short(at_mm)) for at_mm in _points(plan))
    rows: list[Bar | Row] = [
        Bar(words("ruler.tolerance"), _tolerances(plan, words)),
        Row(words("ruler.set-point"), points, "^"),
        Row(words("ruler.target"), tuple(_target(words, marks.wanted_mm, marks.target_mm))),
    ]
    if marks.edges:
        edges = tuple(mark for edge in marks.edges for mark in _edge(edge, words))
        rows.append(Row(words("ruler.edges"), edges))
    return rows


def _drawn(start_mm: float, end_mm: float, rows: Sequence[Bar | Row], words: Words, width: int) -> list[Line]:
    try:
        return _coloured(draw(start_mm, end_mm, rows, width=width), rows, words)
    except TooNarrow:
        return []


def _coloured(drawn: list[str], rows: Sequence[Bar | Row], words: Words) -> list[Line]:
    indent = max(len(row.title) for row in rows) + 2
    names = {span.name for row in rows if isinstance(row, Bar) for span in row.spans}
    lines: list[Line] = []
    title = ""
    for text in drawn:
        if any(text.startswith(f"{sign} ") and text[2:].partition("   ")[0] in names for sign in _BAR_ROLES):
            lines.append(line(Words_(text, Role.DIM)))
            continue
        title = text[:indent].strip() or title
        lines.append(_row(text, indent, title, words))
    return lines


def _row(text: str, indent: int, title: str, words: Words) -> Line:
    before, after = text[:indent], text[indent:]
    if title in (words("ruler.zone"), words("ruler.tolerance")):
        return line(
            Words_(before, Role.DIM),
            *(Words_(one, _BAR_ROLES.get(one[0], Role.PLAIN)) for one in _runs(after)),
        )
    role = {words("ruler.target"): Role.WISH, words("ruler.edges"): Role.GOOD}.get(title, Role.PLAIN)
    return line(Words_(before, Role.DIM), Words_(after, role if title else Role.DIM))


def _runs(text: str) -> list[str]:
    runs: list[str] = []
    for sign in text:
        if runs and runs[-1][0] == sign:
            runs[-1] += sign
        else:
            runs.append(sign)
    return runs


def _scale(plan: Plan) -> float:
    points = plan.grounds.points
    return points[0].bench_mm / points[0].machine_mm if points else 1.0


def _points(plan: Plan) -> list[float]:
    return [point.bench_mm for point in plan.grounds.points]


def _tolerances(plan: Plan, words: Words) -> tuple[Span, ...]:
    tolerance_mm = plan.tolerance_mm * _scale(plan)
    name = words("ruler.tolerance-is", at=words.short(plan.tolerance_mm))
    return tuple(Span(at_mm - tolerance_mm, at_mm + tolerance_mm, "+", name) for at_mm in _points(plan))


def _zone(plan: Plan, sensor_type: SensorType, words: Words) -> tuple[Span, ...]:
    inverse = plan.output_function is OutputFunction.NC
    seen, unseen = ("off", "on") if inverse else ("on", "off")
    scale, points = _scale(plan), _points(plan)
    blind_mm, range_mm = sensor_type.sensing.blind_zone_mm * scale, sensor_type.sensing.range_mm * scale
    start_mm = points[0] if len(points) > 1 else blind_mm
    end_mm = points[-1] if points else range_mm
    return (
        Span(0.0, range_mm, ".", words("ruler.not-seen", state=words(f"state.{unseen}"))),
        Span(start_mm, end_mm, "=", words("ruler.seen", state=words(f"state.{seen}"))),
        Span(0.0, blind_mm, "x", words("ruler.blind")),
    )


def _target(words: Words, wanted_mm: float | None, target_mm: float | None) -> list[Mark]:
    marks = []
    if wanted_mm is not None and wanted_mm != target_mm:
        marks.append(Mark(wanted_mm, words("ruler.wanted", at=words.tenths(wanted_mm))))
    if target_mm is not None:
        marks.append(Mark(target_mm, words("ruler.is", at=words.tenths(target_mm))))
    return marks


def _edge(edge: EdgeMeasured, words: Words) -> tuple[Mark, Mark]:
    return (
        Mark(edge.operate_mm, words("ruler.operate", at=words.number(edge.operate_mm))),
        Mark(edge.release_mm, words("ruler.release", at=words.number(edge.release_mm))),
    )
