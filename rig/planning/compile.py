"""Compiles order, sensor type and rig profile into a plan, or refuses with every reason at once."""

from __future__ import annotations

from rig.planning.checks import Zone, place_checks, zone_of
from rig.planning.plan import (
    Answer,
    AwaitAnswer,
    AwaitOutput,
    Check,
    Inspection,
    MakeContact,
    PlaceTarget,
    Plan,
    PlannedStep,
    PowerCycle,
    Rest,
)
from rig.planning.refusal import PlanRefused, left_out_of, refusals_of, sequence_of, slot_refusals
from sequences.order import Order
from sequences.sensor_type import REFUSED, SensorType
from sequences.steps import Clear, Contact, Cover, Expect, OutputState, Place, Sequence, Step
from sequences.steps import PowerCycle as PowerCycleStep
from sequences.words import SetPoint
from wiring.profile import RigProfile

# Person's or swing's share in the time estimate of one change of the target, in seconds.
_HAND_S = 4.0
# A contact until the LED answers ends on average this far between its limits.
_CONTACT_SHARE = 0.4


def make_plan(order: Order, sensor_type: SensorType, rig: RigProfile) -> Plan:
    """The plan for every unit of `order` on `rig`.

    Raises:
        PlanRefused: when something stands against it.

    """
    setting = order.setting
    if not setting.is_whole:
        raise PlanRefused(tuple(left_out_of(setting)))
    zone = zone_of(setting, sensor_type.sensing, rig.target)
    sequence = sequence_of(setting, sensor_type)
    refusals = tuple(refusals_of(order, sensor_type, rig, zone))
    if refusals or sequence is None:
        raise PlanRefused(refusals)
    plan = _compiled(order, sensor_type, rig, zone, sequence)
    if slotless := tuple(slot_refusals(plan, rig.target)):
        raise PlanRefused(slotless)
    return plan


def _compiled(order: Order, sensor_type: SensorType, rig: RigProfile, zone: Zone, sequence: Sequence) -> Plan:
    setting = order.setting
    steps = tuple(_step(step, sensor_type, order) for step in sequence.steps)
    checks, left_out = place_checks(setting, zone, order.checks)
    response_s = max(sensor_type.timing.response_on_s, sensor_type.timing.response_off_s)
    settle_s = order.checks.settle_factor * response_s
    watch_s = order.checks.readings * response_s
    edge_mm = zone.outer or zone.end
    return Plan(
        sensor_type=sensor_type.name,
        mode=sequence.mode,
        output_function=sequence.taught_function,
        tolerance_mm=zone.tolerance,
        guard_mm=zone.edge_guard(edge_mm),
        inspection=_inspection(order, sensor_type),
        steps=steps,
        checks=checks,
        teach_window_s=sensor_type.timing.teach_window_s,
        teach_timeout_s=sensor_type.timing.teach_timeout_s,
        refused=_answer(sensor_type, REFUSED) if REFUSED in sensor_type.led else None,
        retries=1 if sensor_type.retry_after_refusal else 0,
        led_shows_output=sensor_type.led_shows_output,
        settle_s=settle_s,
        watch_s=watch_s,
        expected_s=_expected_s(sensor_type, steps, checks, rig, settle_s + watch_s),
        warnings=left_out,
    )


def _inspection(order: Order, sensor_type: SensorType) -> Inspection:
    supply = sensor_type.supply
    return Inspection(
        output_type=order.setting.output_type,
        current_min_a=supply.no_load_current_min_a,
        current_max_a=supply.no_load_current_max_a,
        availability_s=sensor_type.timing.availability_delay_s,
    )


def _answer(sensor_type: SensorType, name: str) -> Answer:
    sign = sensor_type.led[name]
    return Answer(name, sign.kind, sign.rate_hz, sign.count)


def _step(step: Step, sensor_type: SensorType, order: Order) -> PlannedStep:
    match step:
        case Place():
            return PlaceTarget(str(step.at), order.setting.set_points_mm[SetPoint(step.at)])
        case Cover():
            return PlaceTarget("cover", 0.0)
        case Clear():
            return PlaceTarget("clear", None)
        case Contact():
            return _contact(step, sensor_type)
        case PowerCycleStep():
            return PowerCycle(step.off_s)
        case Expect(led=str(sign)):
            return AwaitAnswer(_answer(sensor_type, sign), step.within_s)
        case Expect():
            return AwaitOutput(step.output is OutputState.ON, step.within_s)
        case _:
            return Rest(step.for_s)


def _contact(step: Contact, sensor_type: SensorType) -> MakeContact:
    return MakeContact(
        rail=step.rail,
        until=_answer(sensor_type, step.until) if step.until else None,
        for_s=step.for_s,
        shortest_s=step.shortest_s,
        longest_s=step.longest_s,
        times=step.times,
        gap_s=step.gap_s or 0.0,
        longest_gap_s=sensor_type.contact.longest_gap_s if step.times > 1 else None,
    )


def _expected_s(
    sensor_type: SensorType,
    steps: tuple[PlannedStep, ...],
    checks: tuple[Check, ...],
    rig: RigProfile,
    reading_s: float,
) -> float:
    moves = [step.position_mm for step in steps if isinstance(step, PlaceTarget)]
    moves += [check.position_mm for check in checks]
    return (
        sensor_type.timing.availability_delay_s
        + sum(_step_s(step) for step in steps)
        + _moving_s(moves, rig)
        + reading_s * len(checks)
    )


def _step_s(step: PlannedStep) -> float:
    match step:
        case MakeContact(for_s=float(for_s)):
            return step.times * (for_s + step.gap_s)
        case MakeContact():
            return step.shortest_s + _CONTACT_SHARE * (step.longest_s - step.shortest_s)
        case Rest():
            return step.for_s
        case PowerCycle():
            return step.off_s
        case AwaitAnswer() | AwaitOutput():
            return step.within_s / 2
        case _:
            return 0.0


def _moving_s(positions: list[float | None], rig: RigProfile) -> float:
    if rig.target.speed_mm_s is None:
        return _HAND_S * len(positions)
    total_s, last_mm = 0.0, 0.0
    for position_mm in positions:
        if position_mm is None:
            total_s += rig.target.swing_s
        else:
            total_s += abs(position_mm - last_mm) / rig.target.speed_mm_s + rig.target.settle_s
            last_mm = position_mm
    return total_s
