"""A survey as a person reads it: what the unit is set to, where it switches, and the order that copies it."""

from __future__ import annotations

from collections.abc import Iterator

from rig.cli.layout import Page
from rig.events import EdgeMeasured
from rig.planning.drawing import Bar, Mark, Row, Span, TooNarrow, draw
from rig.planning.planned import POINT_NAMES
from rig.survey.bounds import Bounds
from rig.survey.copying import Copy
from rig.survey.report import SurveyReport
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.terms import OutputFunction

# The scale ends this far behind the last thing on it.
_MORE = 1.03
_EDGES = {"inner": "near end", "outer": "far end"}


def print_survey(
    report: SurveyReport,
    sensor_type: SensorType,
    rig: RigProfile,
    bounds: Bounds,
    copy: Copy | None,
    page: Page,
) -> None:
    """Everything that a survey found."""
    if not report.serial:
        page.say(f"nothing was surveyed on rig {rig.name}: no unit was put in")
        return
    page.say(f"unit {report.serial}: {sensor_type.title}; on rig {rig.name}")
    page.heading("set to")
    page.pairs(list(_setting(report)))
    if report.edges:
        page.heading("measured")
        page.table(*_measured(report))
        page.say("Uncertainty for 95 %. Distances from the sensing face, in the air of the bench.")
        page.lines(["", *_drawing(report, bounds, page.width)])
    page.heading("bench")
    page.pairs(list(_bench(report, rig)))
    if copy is not None:
        page.heading(f"order {copy.order.number}")
        page.pairs(list(_order(copy, rig)))
    cautions = list(report.cautions(sensor_type, bounds))
    if cautions:
        page.heading("take note")
        for words in cautions:
            page.item(words)


def _setting(report: SurveyReport) -> Iterator[tuple[str, str]]:
    one = report.recognised
    if one is not None:
        yield "detection mode", one.mode or "cannot be told"
        on = "on without an object" if one.output_function == OutputFunction.NC else "on with an object"
        yield "output function", f"{one.output_function} ({on})"
        yield "output type", one.output_type
    if (found := report.found) is not None:
        for point, edge in found.points.items():
            yield POINT_NAMES[point], f"{edge.operate_mm:.1f} mm ± {edge.operate_u_mm:.1f} mm"
    else:
        yield (
            "verdict",
            f"? {report.verdict or 'not judged'}: {report.words or 'the survey was not finished'}",
        )


def _measured(report: SurveyReport) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    columns = ("edge", ">operates mm", ">releases mm", ">travel mm", ">repeats in mm", ">on / off after ms")
    edges = sorted(report.edges.values(), key=lambda edge: edge.operate_mm)
    return columns, [_row(edge) for edge in edges]


def _row(edge: EdgeMeasured) -> tuple[str, ...]:
    answers = [seconds for seconds in (edge.response_on_s, edge.response_off_s) if seconds is not None]
    return (
        _EDGES[edge.edge],
        f"{edge.operate_mm:.1f} ± {edge.operate_u_mm:.1f}",
        f"{edge.release_mm:.1f} ± {edge.release_u_mm:.1f}",
        f"{edge.travel_mm:.1f} ± {edge.travel_u_mm:.1f}",
        "-" if edge.repeat_mm is None else f"{edge.repeat_mm:.1f}",
        " / ".join(f"{1000 * seconds:.0f}" for seconds in answers) or "-",
    )


def _drawing(report: SurveyReport, bounds: Bounds, width: int) -> list[str]:
    inner, outer = report.edges.get("inner"), report.edges.get("outer")
    end_mm = max(bounds.range_far_mm, outer.release_mm if outer else 0.0) * _MORE
    start_mm = inner.operate_mm if inner else bounds.blind_zone_mm
    zone = Span(start_mm, outer.operate_mm if outer else bounds.last_mm, "=", "detects the target")
    blind = Span(0.0, bounds.blind_zone_mm, "x", "blind zone")
    operates = [Mark(edge.operate_mm, f"{edge.operate_mm:.1f}") for edge in (inner, outer) if edge]
    releases = [Mark(edge.release_mm, f"{edge.release_mm:.1f}") for edge in (inner, outer) if edge]
    rows: list[Bar | Row] = [
        Bar("unit", (Span(0.0, bounds.range_far_mm, ".", "does not"), zone, blind)),
        Row("operates", tuple(operates), "^"),
        Row("releases", tuple(releases), "^"),
    ]
    try:
        return draw(0.0, end_mm, rows, width=width)
    except TooNarrow as narrow:
        return [f"(no drawing: {narrow})"]


def _bench(report: SurveyReport, rig: RigProfile) -> Iterator[tuple[str, str]]:
    yield "air", f"{rig.air.temperature_c:g} °C, {rig.air.humidity_percent:g} %, {rig.air.pressure_kpa:g} kPa"
    if report.current_a is not None:
        yield "supply current", f"{1000 * report.current_a:.0f} mA, with what the load draws"
    if report.edges:
        readings = sum(edge.readings for edge in report.edges.values())
        moves = sum(edge.moves for edge in report.edges.values())
        yield (
            "effort",
            f"{report.seconds_on_bench:.0f} s; edges: {readings} readings, {moves} moves of the target",
        )
    yield "teach wire", f"{report.contacts} contacts" if report.contacts else "not touched"


def _order(copy: Copy, rig: RigProfile) -> Iterator[tuple[str, str]]:
    setting, order = copy.order.setting, copy.order
    points = ", ".join(f"{POINT_NAMES[point]} {at_mm:g} mm" for point, at_mm in setting.set_points_mm.items())
    if points:
        yield "set points", f"{points}, tolerance {setting.tolerance_mm:g} mm to either side"
    yield "quantity", f"{order.quantity} x {order.sensor_type}"
    yield (
        "air",
        f"{rig.air.temperature_c:g} °C, {rig.air.humidity_percent:g} % of this bench stand for the machine's: the "
        "copies then switch where this unit does, whatever air the machine has",
    )
