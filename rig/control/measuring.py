"""Measuring a check unit: the order for it, and what came of it, out of the record.

It is verified as any unit is: its edges are measured and judged, nothing teaches it, and the recount follows it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rig.control.check_unit import Account, CheckUnit, Measured, order_number
from rig.edges.finest import finest_mm
from rig.events import THE_RIG, FigureMeasured, OrderInputs, Purpose, UnitJudged
from rig.events.unit import DEVIATION
from rig.jobs import job_of
from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.recount.attempt import Attempt
from rig.sequencer.order_run import Job
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile, TargetKind, TargetProfile
from wiring.terms import DetectionMode, OutputType, Verification

if TYPE_CHECKING:
    from hal.simulated.benchfile import BenchFile

# Readings grow with the square of what is asked beyond the bench's own share.
_SPARE = 1.15


class NoCheckUnit(ValueError):
    """This cannot be a check unit, or not now; its text says why, and what is allowed."""


def must_have_points(serial: str, inputs: OrderInputs | None) -> OrderInputs:
    """What a unit was set by, if it has a set point to be watched; raises NoCheckUnit."""
    if inputs is None:
        raise NoCheckUnit(
            f"the record does not hold what unit {serial} was set by; allowed: a unit that was set here"
        )
    if inputs.order.get("setting", {}).get("mode") == DetectionMode.FULL_RANGE:
        raise NoCheckUnit(
            f"unit {serial} is set to full range, which has no set point; allowed: one that has"
        )
    return inputs


def check_order(unit: CheckUnit, target: TargetProfile) -> tuple[Order, SensorType]:
    """The order by which a check unit is measured on a rig; raises NoCheckUnit where the record is too old for it."""
    method = Verification.MEASURED if target.kind is TargetKind.STAGE else Verification.GUIDED
    data: dict[str, Any] = {
        **unit.order,
        "number": order_number(unit.serial),
        "customer": THE_RIG,
        "quantity": 1,
        "serials": [unit.serial],
        "serial_run": None,
        "checks": _checks(unit.order.get("checks", {}), method),
    }
    try:
        order = Order.model_validate(data, strict=False)
        return order, SensorType.model_validate(dict(unit.sensor_type), strict=False)
    except ValueError:
        raise NoCheckUnit(
            f"check unit {unit.serial} was kept by another version of the program; allowed: keep it again"
        ) from None


def finest_order(order: Order, sensor_type: SensorType, rig: RigProfile) -> Order:
    """The same order with its edges measured as finely as the rig can in reasonable time, not as finely as decides.

    Coarser readings would come in steps, and hide what a chart is kept for. Raises PlanRefused.
    """
    measuring = make_plan(order, sensor_type, rig).measuring
    if measuring is None:
        return order
    finest = max(finest_mm(task, rig.target) for task in measuring.tasks)
    wanted_mm = min(max(_SPARE * finest, 0.001), *(task.wanted_mm for task in measuring.tasks))
    checks = order.checks.model_copy(update={"uncertainty_mm": wanted_mm})
    return order.model_copy(update={"checks": checks})


def _checks(checks: Mapping[str, Any], method: Verification) -> dict[str, Any]:
    """As thorough as its order was, but measured, and asking for nothing that comes from the check unit itself."""
    asked = {key: checks[key] for key in ("rule", "largest_risk") if key in checks}
    return {**asked, "method": method}


@dataclass(frozen=True, slots=True)
class Ready:
    """All that a measurement of a check unit needs; `bench_file` None: on a board."""

    job: Job
    profile: RigProfile
    bench_file: BenchFile | None


def ready(
    account: Account,
    profile: RigProfile,
    holds: Callable[[str, OutputType], BenchFile | None],
    aired: Callable[[RigProfile, BenchFile | None], RigProfile],
) -> Ready:
    """Plan a measurement.

    Args:
        account: the check unit.
        profile: its rig.
        holds: what a simulated bench holds, for a sensor type and output type.
        aired: the rig in the air that its probe measures.

    Raises:
        NoCheckUnit: for one that was kept by another version.
        PlanRefused: where the rig cannot do it.

    """
    order, sensor_type = check_order(account.unit, profile.target)
    bench_file = holds(sensor_type.name, order.setting.output_type)
    if profile.air.probe is not None:
        profile = aired(profile, bench_file)
    order = finest_order(order, sensor_type, profile)
    plan = make_plan(order, sensor_type, profile)
    if bench_file is not None:
        bench_file = _as_it_is_now(bench_file, plan, len(account.measured))
    return Ready(job_of(order, sensor_type, profile, plan, Purpose.VERIFY), profile, bench_file)


def _as_it_is_now(bench_file: BenchFile, plan: Plan, shifts: int) -> BenchFile:
    """The simulated bench with the check unit as it was set, so many shifts on."""
    from hal.simulated.already_set import already_set
    from hal.simulated.later import shifts_later

    points_mm = [at_mm * plan.scale for _, at_mm in plan.set_points]
    return shifts_later(already_set(bench_file, plan.mode, plan.output_function, points_mm), shifts)


def measured_of(attempt: Attempt, person: str) -> Measured:
    """What a measurement came to, out of its record."""
    deviations = dict(_deviations(attempt))
    judged = next((one.event for one in attempt.events if isinstance(one.event, UnitJudged)), None)
    words = "interrupted" if judged is None else f"{judged.verdict}: {judged.words}"
    return Measured(attempt.begin.utc, deviations, person, words, attempt.run)


def _deviations(attempt: Attempt) -> Iterator[tuple[str, tuple[float, float]]]:
    for one in attempt.events:
        event = one.event
        if not isinstance(event, FigureMeasured) or not event.name.startswith(f"{DEVIATION}, "):
            continue
        if event.value is not None and event.expanded is not None:
            yield event.name.partition(", ")[2], (event.value, event.expanded)
