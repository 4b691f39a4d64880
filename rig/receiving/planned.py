"""Plans for a unit of a lot: as it was delivered, and for its trial setting; or what stands against them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rig.deciding.requirement import RANGE_END_SHARE
from rig.planning.compile import make_plan
from rig.planning.plan import Check, Plan, Requirement
from rig.planning.refusal import PlanRefused
from sequences.checks import CheckPlan
from sequences.order import Order, Setting
from sequences.receiving import WHOLE_RANGE, Characteristic, ReceivingPlan
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.terms import DetectionMode, Verification

# No target is placed more finely.
_SAME_MM = 1.0
_ENDS = {Characteristic.BLIND_ZONE: Requirement.BLIND_END, Characteristic.FAR_END: Requirement.RANGE_END}


class CannotReceive(ValueError):
    """Units cannot be tested by this receiving plan on this rig; the words say all that stands against it."""


@dataclass(frozen=True, slots=True)
class Planned:
    """What a unit is tested by.

    Attributes:
        receiving: what is asked for.
        delivered: the unit as its type's data say that it is delivered, and how it is set back to that.
        trial: the setting that it is taught as a trial; None if none is.

    """

    receiving: ReceivingPlan
    delivered: Plan
    trial: Plan | None

    @property
    def warnings(self) -> tuple[str, ...]:
        """What is left out of the trial, or less sure than it looks."""
        return () if self.trial is None else self.trial.warnings

    def end(self, characteristic: Characteristic) -> Check:
        """Where an end of the range is tested."""
        return next(one for one in self.delivered.checks if one.requirement is _ENDS[characteristic])


def planned(receiving: ReceivingPlan, sensor_type: SensorType, rig: RigProfile) -> Planned:
    """The plans for units of a lot.

    Raises:
        CannotReceive: with every reason that stands against it.

    """
    against = list(_against(receiving, sensor_type, rig))
    if against:
        raise CannotReceive("\n".join(against))
    factory, trial = sensor_type.factory, None
    setting = Setting(
        mode=factory.mode, output_function=factory.output_function, output_type=receiving.output_type
    )
    delivered = _plan(
        "factory setting", setting, CheckPlan(method=Verification.POSITIONS), (sensor_type, rig)
    )
    if receiving.trial is not None:
        wanted = receiving.trial.setting(receiving.output_type)
        trial = _plan("trial setting", wanted, receiving.trial.checks, (sensor_type, rig))
    made = Planned(receiving, delivered, trial)
    out_of_reach = list(_out_of_reach(made, sensor_type, rig))
    if out_of_reach:
        raise CannotReceive("\n".join(out_of_reach))
    return made


def _plan(what: str, setting: Setting, checks: CheckPlan, on: tuple[SensorType, RigProfile]) -> Plan:
    sensor_type, rig = on
    order = Order(
        number="lot",
        customer="-",
        quantity=1,
        sensor_type=sensor_type.name,
        serials=("unit",),
        setting=setting,
        checks=checks,
    )
    try:
        return make_plan(order, sensor_type, rig)
    except PlanRefused as refused:
        raise CannotReceive(f"{what}: {refused}") from None


def _against(receiving: ReceivingPlan, sensor_type: SensorType, rig: RigProfile) -> Iterator[str]:
    if receiving.output_type not in sensor_type.output.types:
        types = ", ".join(sensor_type.output.types)
        yield f"output_type: {sensor_type.name} has no {receiving.output_type} output; allowed: {types}"
    if sensor_type.factory.mode is not DetectionMode.FULL_RANGE:
        asked = [one for one in WHOLE_RANGE if receiving.test.of(one) is not None]
        for one in asked:
            yield (
                f"test.{one.key}: units of {sensor_type.name} are delivered as {sensor_type.factory.mode}, whose set "
                "points nobody knows; allowed: leave this test out"
            )
        if receiving.restore and not asked:
            yield (
                f"restore: the factory setting of {sensor_type.name} has set points that nobody knows; allowed: false"
            )
    if receiving.test.led is not None and not _led_tells(receiving, sensor_type, rig):
        yield (
            f"test.led: the LED of {sensor_type.name} does not show the output, or the rig has no LED pick-up, and no "
            "answer of it is waited for; allowed: a trial setting with one, or leave this test out"
        )


def _led_tells(receiving: ReceivingPlan, sensor_type: SensorType, rig: RigProfile) -> bool:
    if sensor_type.led_shows_output and rig.nest[0].led is not None:
        return True
    trial = receiving.trial
    sequence = None if trial is None else sensor_type.sequence_for(trial.mode, trial.output_function)
    steps = () if sequence is None else sequence.steps
    return any(getattr(step, "until", None) or getattr(step, "led", None) for step in steps)


def _out_of_reach(made: Planned, sensor_type: SensorType, rig: RigProfile) -> Iterator[str]:
    read = {one.requirement for one in made.delivered.checks}
    sensing, target = sensor_type.sensing, rig.target
    short = {
        Characteristic.BLIND_ZONE: (target.nearest_mm, target.nearest_mm > sensing.blind_zone_mm),
        Characteristic.FAR_END: (
            target.farthest_mm,
            target.farthest_mm < RANGE_END_SHARE * sensing.range_mm,
        ),
    }
    for characteristic, (reach_mm, falls_short) in short.items():
        if made.receiving.test.of(characteristic) is None:
            continue
        # A plan reads the output as near to an end as the target comes: that proves less than is asked for here.
        if _ENDS[characteristic] not in read or (falls_short and _stands_at(made, characteristic, reach_mm)):
            yield (
                f"test.{characteristic.key}: the target of this rig does not come to the {characteristic}, but to "
                f"{reach_mm:g} mm; allowed: a rig whose target does, or leave this test out"
            )


def _stands_at(made: Planned, characteristic: Characteristic, reach_mm: float) -> bool:
    at_mm = made.end(characteristic).position_mm
    return at_mm is not None and abs(at_mm - reach_mm) < _SAME_MM
