"""The steps of a teach sequence with the order's distances in them."""

from __future__ import annotations

from rig.planning.account import taught_mm
from rig.planning.case import Case, sequence_of
from rig.planning.plan import (
    Answer,
    AwaitAnswer,
    AwaitOutput,
    MakeContact,
    PlaceTarget,
    PlannedStep,
    PowerCycle,
    Rest,
)
from sequences.order import Setting
from sequences.sensor_type import REFUSED, SensorType
from sequences.steps import Clear, Contact, Cover, Expect, OutputState, Place, Step
from sequences.steps import PowerCycle as PowerCycleStep
from sequences.words import SetPoint


def steps_of(case: Case, setting: Setting) -> tuple[PlannedStep, ...]:
    """Every step that teaches a whole setting; none if the type cannot be taught it."""
    sequence = sequence_of(setting, case.sensor_type)
    return () if sequence is None else tuple(_step(step, case, setting) for step in sequence.steps)


def refusal_sign(sensor_type: SensorType) -> Answer | None:
    """What the LED shows when a unit says no, if the type has such a sign."""
    return _answer(sensor_type, REFUSED) if REFUSED in sensor_type.led else None


def _answer(sensor_type: SensorType, name: str) -> Answer:
    sign = sensor_type.led[name]
    return Answer(name, sign.kind, sign.rate_hz, sign.count)


def _step(step: Step, case: Case, setting: Setting) -> PlannedStep:
    match step:
        case Place():
            return _place(case, SetPoint(step.at), setting)
        case Cover():
            return PlaceTarget("cover", 0.0)
        case Clear():
            return PlaceTarget("clear", None)
        case Contact():
            return _contact(step, case.sensor_type)
        case PowerCycleStep():
            return PowerCycle(step.off_s)
        case Expect(led=str(sign)):
            return AwaitAnswer(_answer(case.sensor_type, sign), step.within_s)
        case Expect():
            return AwaitOutput(step.output is OutputState.ON, step.within_s)
        case _:
            return Rest(step.for_s)


def _place(case: Case, point: SetPoint, setting: Setting) -> PlaceTarget:
    bench_mm = taught_mm(case, setting.set_points_mm[point])
    return PlaceTarget(str(point), bench_mm, bench_mm / case.conditions.scale)


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
