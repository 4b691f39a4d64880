"""What the units of an order were to be set to, how that was proved, in what air and on which rig."""

from __future__ import annotations

from dataclasses import dataclass

from rig.planning.budget import COVERAGE
from rig.planning.planned import HOW_PROVED, POINT_NAMES, Planned
from rig.recount.edge_rows import percent_words
from rig.recount.why import rule_words
from wiring.profile import TargetKind

NOT_CALIBRATED = (
    "Not calibrated: no calibration of this rig is on record. Distances, currents and times rest on the limits of "
    "error that its profile states, and are traceable to no standard."
)
_MOVED = {
    TargetKind.STAGE: "moved by a linear stage",
    TargetKind.SLOTS: "put into slots by hand",
    TargetKind.MANUAL: "moved by hand along a scale",
}


@dataclass(frozen=True, slots=True)
class PointFacts:
    """A set point, at the machine and on the bench.

    `guard_mm` is the expanded uncertainty at the far end of its tolerance, at the machine.
    """

    name: str
    machine_mm: float
    bench_mm: float
    guard_mm: float


@dataclass(frozen=True, slots=True)
class SettingFacts:
    """What an order asks for and how it was proved.

    Attributes:
        tolerance_mm: to either side of each set point, at the machine; None where there is no set point.
        scale: bench distance over machine distance.
        measured: whether edges were measured; else the output was read at positions.
        coverage_percent: coverage probability of the uncertainties that are told.
        risk: what the checks may decide wrongly, in words; empty where every value tells its own.
        air: names and words.

    """

    order: str
    customer: str
    quantity: int
    designation: str
    sensor_type: str
    title: str
    mode: str
    output_function: str
    output_type: str
    points: tuple[PointFacts, ...]
    tolerance_mm: float | None
    scale: float
    measured: bool
    method: str
    target: str
    rule: tuple[str, ...]
    coverage_percent: float
    risk: str
    air: tuple[tuple[str, str], ...]
    rig: str
    rig_title: str
    calibration: str


def setting_facts(planned: Planned) -> SettingFacts:
    """What a plan says of setting, method, air and rig."""
    order, setting, plan, rig = planned.case.order, planned.setting, planned.plan, planned.case.rig
    grounds = plan.grounds
    side = f"{rig.target.side_mm:g} mm"
    return SettingFacts(
        order=order.number,
        customer=order.customer,
        quantity=order.quantity,
        designation=setting.reference_designation or "",
        sensor_type=planned.case.sensor_type.name,
        title=planned.case.sensor_type.title,
        mode=str(plan.mode),
        output_function=str(plan.output_function),
        output_type=str(setting.output_type),
        points=tuple(
            PointFacts(POINT_NAMES[one.point], one.machine_mm, one.bench_mm, one.guard_mm)
            for one in grounds.points
        ),
        tolerance_mm=plan.tolerance_mm if plan.set_points else None,
        scale=plan.scale,
        measured=planned.case.measured,
        method=HOW_PROVED[plan.method],
        target=f"flat plate of {side} x {side}, {_MOVED[rig.target.kind]}",
        rule=rule_words(plan),
        coverage_percent=95.0 if planned.case.measured else 100 * COVERAGE,
        risk="" if planned.case.measured else _risk_words(planned),
        air=_air(planned),
        rig=rig.name,
        rig_title=rig.title,
        calibration=NOT_CALIBRATED,
    )


def _risk_words(planned: Planned) -> str:
    worst = max((one.passes_at_limit for one in planned.plan.grounds.risks), default=None)
    if worst is None:
        return ""
    return (
        f"A unit that lies just outside its tolerance passes with a chance of {percent_words(worst)} at most."
    )


def _air(planned: Planned) -> tuple[tuple[str, str], ...]:
    air, profile = planned.plan.grounds.air, planned.case.rig.air
    probed = " by its probe when the order was begun" if profile.probe is not None else ""
    bench = (
        f"{profile.temperature_c:g} \u00b1 {profile.temperature_error_k:g} \u00b0C, "
        f"{profile.humidity_percent:g} \u00b1 {profile.humidity_error_percent:g} % humidity{probed}, "
        f"{profile.pressure_kpa:g} \u00b1 {profile.pressure_error_kpa:g} kPa, as the rig profile states"
    )
    if air is None:
        return (("air on the bench", bench), ("air at the machine", "not stated in the order"))
    dampness = f"{air.driest_percent:g} to {air.dampest_percent:g} % humidity"
    machine = f"{air.coldest_c:g} to {air.warmest_c:g} \u00b0C, {dampness}"
    corrects = (
        "the sensor corrects for it: distances on the bench are those at the machine"
        if air.compensated
        else f"the sensor does not correct for it: bench distance = {air.scale:.5f} x distance at the machine"
    )
    return (("air on the bench", bench), ("air at the machine", f"{machine}; {corrects}"))
