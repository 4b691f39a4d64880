"""The drawings of a plan: the whole way to the end of the range, and a close look at each set point."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from rig.planning.drawing import Bar, Mark, Row, Span, TooNarrow, draw
from rig.planning.grounds import PointGrounds
from rig.planning.plan import Check, Requirement
from rig.planning.planned import Planned
from sequences.words import SetPoint
from wiring.saying import say
from wiring.terms import OutputFunction

# The scale ends this far behind the last thing on it.
_MORE = 1.03
_INNER = (Requirement.INNER_NOT_NEAR, Requirement.INNER_NOT_FAR, Requirement.INNER_RELEASE)
_OUTER = (Requirement.OUTER_NOT_FAR, Requirement.OUTER_NOT_NEAR, Requirement.OUTER_RELEASE)


def whole_drawing(planned: Planned, width: int, tell: Callable[[str], str] = str) -> list[str]:
    """Face, blind zone, zone, objects and what stands around them, with every check; distances at the machine.

    `tell` puts its words into another language.
    """
    need, scale = planned.case.need, planned.zone.scale
    range_mm = planned.zone.sensing.range_mm / scale
    things_mm = [mm for mm in (need.farthest_mm, need.background_mm) if mm is not None]
    end_mm = max([range_mm, *(mm for mm in things_mm if mm < 2 * range_mm)]) * _MORE
    points = planned.setting.set_points_mm
    lines: list[Bar | Row] = [
        Bar("sensing", tuple(_sensing(planned, range_mm))),
        Row("set points" if len(points) > 1 else "set point", tuple(_points(planned)), "^"),
        *_things(planned, end_mm),
        Row("checks", tuple(_checks(planned))),
    ]
    shown = [_told(line, tell) for line in lines if not isinstance(line, Row) or line.marks]
    return _drawn(0.0, end_mm, shown, width)


def close_drawing(planned: Planned, grounds: PointGrounds, width: int) -> list[str]:
    """The tolerance of one set point, where the air moves it, and the readings that judge it; at the machine."""
    scale, tolerance_mm = planned.zone.scale, grounds.tolerance_mm
    wanted = _INNER if grounds.point is SetPoint.NEAR else _OUTER
    checks = [(number, check) for number, check in _numbered(planned) if check.requirement in wanted]
    first = tuple(_at(number, check.position_mm, scale) for number, check in checks)
    proofs = tuple(
        _at(number, check.proof_mm, scale)
        for number, check in checks
        if check.proof_mm not in (None, check.position_mm)
    )
    low_mm, high_mm = grounds.machine_mm - tolerance_mm, grounds.machine_mm + tolerance_mm
    drift = Span(grounds.drift_nearest_mm, grounds.drift_farthest_mm, "~", "where the machine's air moves it")
    guard_mm = planned.zone.rule_guard(grounds.bench_mm) / scale
    marks_mm = [mark.at_mm for mark in (*first, *proofs)] or [low_mm - guard_mm, high_mm + guard_mm]
    edges_mm = [low_mm, high_mm, drift.start_mm, drift.end_mm, *marks_mm]
    more_mm = (max(edges_mm) - min(edges_mm)) / 15
    lines: list[Bar | Row] = [
        Bar("tolerance", (Span(low_mm, high_mm, "+", "tolerance"),)),
        Row("set point", (Mark(grounds.machine_mm, f"{grounds.machine_mm:g}"),), "^"),
        *([Bar("air", (drift,))] if planned.case.conditions.span else []),
        *([Row("read at", first), Row("then at", proofs)] if first else []),
        *([] if first else [_good(low_mm + guard_mm, high_mm - guard_mm)]),
    ]
    return _drawn(min(edges_mm) - more_mm, max(edges_mm) + more_mm, lines, width)


def _good(low_mm: float, high_mm: float) -> Bar:
    """Between which values a measured operate point is good, as finely as the rig can measure."""
    return Bar("good", (Span(low_mm, high_mm, "=", "measured here it is good"),))


def _told(line: Bar | Row, tell: Callable[[str], str]) -> Bar | Row:
    title = tell(line.title)
    if isinstance(line, Row):
        return replace(
            line, title=title, marks=tuple(replace(one, name=tell(one.name)) for one in line.marks)
        )
    return replace(line, title=title, spans=tuple(replace(one, name=tell(one.name)) for one in line.spans))


def _drawn(start_mm: float, end_mm: float, lines: list[Bar | Row], width: int) -> list[str]:
    try:
        return draw(start_mm, end_mm, lines, width=width)
    except TooNarrow as narrow:
        return [f"(no drawing: {narrow})"]


def _sensing(planned: Planned, range_mm: float) -> Iterator[Span]:
    inverse = planned.plan.output_function is OutputFunction.NC
    seen, unseen = ("off", "on") if inverse else ("on", "off")
    scale = planned.zone.scale
    blind_mm = planned.zone.sensing.blind_zone_mm / scale
    points_mm = list(planned.setting.set_points_mm.values())
    start_mm = points_mm[0] if len(points_mm) > 1 else blind_mm
    end_mm = points_mm[-1] if points_mm else range_mm
    yield Span(0.0, range_mm, ".", say("object not reported: output {state}", state=unseen))
    yield Span(start_mm, end_mm, "=", say("object reported: output {state}", state=seen))
    yield Span(0.0, blind_mm, "x", "blind zone")


def _points(planned: Planned) -> Iterator[Mark]:
    for point, at_mm in planned.setting.set_points_mm.items():
        alone = point is SetPoint.ONLY
        yield Mark(at_mm, f"{at_mm:g}" if alone else say("{point} {at_mm:g}", point=point, at_mm=at_mm))


def _things(planned: Planned, end_mm: float) -> Iterator[Bar]:
    need = planned.case.need
    spans = []
    if need.foreground_mm is not None:
        spans.append(Span(0.0, need.foreground_mm, "#", "must not be reported"))
    if need.nearest_mm is not None and need.farthest_mm is not None:
        spans.append(Span(need.nearest_mm, need.farthest_mm, "o", "objects"))
    if need.background_mm is not None:
        spans.append(Span(need.background_mm, end_mm, "#", "must not be reported"))
    if spans:
        yield Bar("machine", tuple(spans))


def _checks(planned: Planned) -> Iterator[Mark]:
    for number, check in _numbered(planned):
        if check.position_mm is not None:
            yield _at(number, check.position_mm, planned.zone.scale)


def _numbered(planned: Planned) -> Iterator[tuple[int, Check]]:
    yield from enumerate(planned.plan.checks, start=1)


def _at(number: int, bench_mm: float | None, scale: float) -> Mark:
    return Mark((bench_mm or 0.0) / scale, str(number))
