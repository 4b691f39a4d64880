"""A plan as a person reads it, section by section."""

from __future__ import annotations

from collections.abc import Iterator

from rig.cli.layout import Page
from rig.cli.plan_measuring import print_measuring
from rig.cli.plan_proof import print_proof
from rig.planning.headroom import Headroom, headroom
from rig.planning.plan import AwaitAnswer, AwaitOutput, Check, MakeContact, PlaceTarget, PlannedStep
from rig.planning.plan_drawing import close_drawing, whole_drawing
from rig.planning.planned import HOW_PROVED, POINT_NAMES, Planned, spoken
from rig.planning.refusal import at_least, at_most
from sequences.words import SetPoint


def print_plan(planned: Planned, page: Page) -> None:
    """Everything that a plan says."""
    _print_head(planned, page)
    print_setting(planned, page)
    _print_drawings(planned, page)
    _print_steps(planned, page)
    _print_checks(planned, page)
    print_measuring(planned, page)
    print_proof(planned, page)
    _print_limits(planned, page)
    _print_time(planned, page)
    _print_notes(planned, page)


def _print_head(planned: Planned, page: Page) -> None:
    order, sensor_type, rig = planned.case.order, planned.case.sensor_type, planned.case.rig
    page.say(f"order {order.number} for {order.customer}: {order.quantity} x {sensor_type.name}")
    page.say(f"{sensor_type.title}; on rig {rig.name}")
    if planned.plan.grounds.need:
        page.heading("need at the machine")
        page.pairs([(fact.name, fact.value) for fact in planned.plan.grounds.need])


def print_setting(planned: Planned, page: Page) -> None:
    """What a unit is set to, for which air."""
    plan, reasons = planned.plan, planned.plan.grounds.reasons
    if any(reason.proposed for reason in reasons):
        page.heading("proposed setting")
        page.pairs([(spoken(reason.choice), f"{reason.value}: {reason.why}") for reason in reasons])
    page.heading("setting")
    words = f"{plan.mode}, {plan.output_function}, {planned.setting.output_type}"
    points = ", ".join(f"{POINT_NAMES[point]} {at_mm:g} mm" for point, at_mm in plan.set_points)
    rows = [("taught", words), ("proved", f"{HOW_PROVED[plan.method]}; {plan.decision.words}")]
    if points:
        rows.append(("at the machine", f"{points}, tolerance {plan.tolerance_mm:g} mm to either side"))
    air = plan.grounds.air
    if air is not None:
        rows.append(("air", _air_words(planned)))
    page.pairs(rows)


def _air_words(planned: Planned) -> str:
    air = planned.plan.grounds.air
    if air is None:
        return ""
    bench = f"bench {air.bench_c:g} \u00b0C, {air.bench_percent:g} %, sound {air.bench_m_s:.2f} m/s"
    machine = f"machine {air.middle_c:g} \u00b0C, {air.middle_percent:g} %, sound {air.middle_m_s:.2f} m/s"
    if air.compensated:
        return f"{bench}; {machine}; the unit corrects for it, so distances are the same"
    return f"{bench}; {machine}; bench distance = {air.scale:.5f} x distance at the machine"


def _print_drawings(planned: Planned, page: Page) -> None:
    page.heading("distances at the machine, in mm from the sensing face, to scale")
    page.lines(whole_drawing(planned, page.width))
    for one in planned.plan.grounds.points:
        page.heading(f"around the {POINT_NAMES[one.point]} (figures: checks by number)")
        page.lines(close_drawing(planned, one, page.width))


def _print_steps(planned: Planned, page: Page) -> None:
    moved = planned.zone.scale != 1
    page.heading("teaching")
    columns = [">step", "what", ">bench mm", *([">machine mm"] if moved else []), ">contact s"]
    page.table(
        columns,
        [
            (str(number), _step_words(step), *_places(step, moved), _contact_s(step))
            for number, step in enumerate(planned.plan.steps, start=1)
        ],
    )
    refused = planned.plan.refused
    if refused is not None:
        again = "the whole sequence is tried once more" if planned.plan.retries else "the unit is put aside"
        page.say(f"LED {refused.words}: the unit refuses; {again}.")


def _step_words(step: PlannedStep) -> str:
    match step:
        case PlaceTarget(position_mm=float(), where=where) if where != "cover":
            return f"target at the {POINT_NAMES[SetPoint(where)]}"
        case AwaitAnswer(within_s=within_s) | AwaitOutput(within_s=within_s):
            return f"{step.text} within {within_s:g} s"
        case MakeContact(times=times, gap_s=gap_s) if times > 1:
            return f"{step.text}, {gap_s:g} s apart"
    return step.text


def _places(step: PlannedStep, moved: bool) -> tuple[str, ...]:
    bench = machine = ""
    if isinstance(step, PlaceTarget) and step.position_mm is not None and step.where != "cover":
        bench = f"{step.position_mm:.1f}"
        machine = f"{step.machine_mm:.1f}" if step.machine_mm is not None else ""
    return (bench, machine) if moved else (bench,)


def _contact_s(step: PlannedStep) -> str:
    if not isinstance(step, MakeContact):
        return ""
    span = f"{step.shortest_s:g} to {step.longest_s:g}"
    return span if step.for_s is None else f"{step.for_s:g} ({span})"


def _print_checks(planned: Planned, page: Page) -> None:
    moved = planned.zone.scale != 1
    page.heading("checks")
    columns = [
        ">no",
        ">bench mm",
        *([">machine mm"] if moved else []),
        "comes",
        "output",
        "proves",
        ">then at mm",
    ]
    page.table(
        columns, [_check_cells(number, check, moved) for number, check in enumerate(planned.plan.checks, 1)]
    )
    for scan_mm in planned.plan.scans_mm:
        page.say(
            f"Then {len(scan_mm)} readings from {scan_mm[0]:.1f} to {scan_mm[-1]:.1f} mm: where the output changes "
            "more than once, the unit's repeat accuracy is bad."
        )
    page.say("then at: where a wrong answer is read again on the bench; wrong there too, the unit is bad.")


def _check_cells(number: int, check: Check, moved: bool) -> list[str]:
    return [
        str(number),
        _millimetres(check.position_mm, "clear"),
        *([_millimetres(check.machine_mm, "")] if moved else []),
        str(check.approach).replace("the last position", "last"),
        "on" if check.expected_on else "off",
        str(check.requirement),
        "same"
        if check.position_mm is not None and check.proof_mm == check.position_mm
        else _millimetres(check.proof_mm, "-"),
    ]


def _millimetres(at_mm: float | None, otherwise: str) -> str:
    return otherwise if at_mm is None else f"{at_mm:.1f}"


def _print_limits(planned: Planned, page: Page) -> None:
    page.heading("limits, and what is left to them")
    page.table(
        ("limit", ">here", "allowed", ">left"), [tuple(_limit_cells(one)) for one in headroom(planned)]
    )


def _limit_cells(one: Headroom) -> Iterator[str]:
    yield spoken(one.what)
    yield "not stated" if one.here is None else f"{_figure(one.here)} {one.unit}"
    least = "" if one.lowest is None else _figure(at_least(one.lowest, _decimals(one.lowest)))
    most = "" if one.highest is None else _figure(at_most(one.highest, _decimals(one.highest)))
    yield (
        f"{least} to {most} {one.unit}"
        if least and most
        else f"{least or most} {one.unit} or {'more' if least else 'less'}"
    )
    yield "" if one.left is None else _figure(one.left)


def _figure(value: float) -> str:
    return f"{round(value, _decimals(value)) + 0.0:g}"


def _decimals(value: float) -> int:
    return 1 if abs(value) >= 10 else 2


def _print_time(planned: Planned, page: Page) -> None:
    plan, quantity = planned.plan, planned.case.order.quantity
    page.heading("expected time on the bench, without the person's")
    page.pairs([(part.what, f"{part.seconds:5.1f} s") for part in plan.times])
    whole_s = plan.expected_s * quantity
    whole = f"{whole_s:.0f} s" if whole_s < 120 else f"{whole_s / 60:.0f} min"
    page.say(f"{plan.expected_s:.1f} s a unit; {quantity} units {whole}")


def _print_notes(planned: Planned, page: Page) -> None:
    if planned.plan.warnings:
        page.heading("what is left out, or less sure than it looks")
        for warning in planned.plan.warnings:
            page.item(spoken(warning))
