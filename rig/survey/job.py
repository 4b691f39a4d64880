"""The job of a survey: which unit, and how it is handled before anything is known of its setting."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict, dataclass

from rig.events import OrderInputs, Purpose
from rig.measuring.measure import port_on
from rig.planning.beam_edge import sine_at
from rig.planning.bench_limits import supply_refusals
from rig.planning.grounds import BeamGrounds, Grounds, TeachGrounds
from rig.planning.plan import Inspection, Plan
from rig.planning.refusal import Refusal, too_little
from rig.planning.surroundings import clear_radius_mm
from rig.sequencer.order_run import Job
from rig.survey.bounds import Bounds
from rig.survey.stage import Surveying
from sequences.sensor_type import SensorType
from sequences.words import Rule
from wiring.profile import RigProfile
from wiring.terms import DetectionMode, OutputFunction, Verification

# As usual in orders: wait and watch, in longest responses of the type.
_SETTLE, _WATCH = 3.0, 5.0
_HALF_POWER_DB = -3.0


@dataclass(frozen=True, slots=True)
class SurveyedUnit:
    """The one unit of a survey, and the number under which the survey is recorded."""

    number: str
    serial: str
    customer: str = "-"
    quantity: int = 1

    def unit_serials(self) -> tuple[str, ...]:
        """The serial of the unit."""
        return (self.serial,)


def survey_job(unit: SurveyedUnit, sensor_type: SensorType, rig: RigProfile, bounds: Bounds) -> Job:
    """Survey one unit; no stage of it teaches."""
    stages = Surveying(sensor_type, bounds, rig.target, port_on)
    inputs = OrderInputs(asdict(unit), sensor_type.model_dump(mode="json"), rig.model_dump(mode="json"))
    plan = survey_plan(sensor_type, bounds)
    return Job(unit, plan, Purpose.SURVEY, (stages.inspect, stages.survey), inputs)


def survey_refusals(sensor_type: SensorType, rig: RigProfile, bounds: Bounds) -> Iterator[Refusal]:
    """What stands against a survey of units of a type on a rig, whatever they are set to."""
    if rig.target.speed_mm_s is None:
        yield Refusal(
            "a survey needs a target drive, and the target of this rig is moved by hand",
            f"{rig.target.kind}",
            'a rig profile with [target] kind = "stage"',
            "rig.target.kind",
        )
    yield from supply_refusals(sensor_type, rig)
    radius_mm, free_mm = _bench_radius_mm(bounds), rig.target.clear_radius_mm
    if free_mm is not None and free_mm < radius_mm:
        what, key = "something on the bench may be heard beside the target", "rig.target.clear_radius_mm"
        yield too_little(what, free_mm, radius_mm, "mm", key, because="free around the axis")


def survey_plan(sensor_type: SensorType, bounds: Bounds) -> Plan:
    """A plan without steps or checks; output type and function are the first that may be, until they are known."""
    timing, supply = sensor_type.timing, sensor_type.supply
    response_s = max(timing.response_on_s, timing.response_off_s)
    return Plan(
        sensor_type=sensor_type.name,
        mode=DetectionMode.FULL_RANGE,
        output_function=OutputFunction.NO,
        set_points=(),
        tolerance_mm=0.0,
        guard_mm=bounds.doubt.expanded_mm(bounds.range_far_mm),
        inspection=Inspection(
            output_type=sensor_type.output.types[0],
            current_min_a=supply.no_load_current_min_a,
            current_max_a=supply.no_load_current_max_a,
            availability_s=timing.availability_delay_s,
        ),
        steps=(),
        checks=(),
        method=Verification.MEASURED,
        rule=Rule.GUARDED,
        largest_risk=None,
        measuring=None,
        scale=1.0,
        teach_window_s=timing.teach_window_s,
        teach_timeout_s=timing.teach_timeout_s,
        refused=None,
        retries=0,
        led_shows_output=sensor_type.led_shows_output,
        settle_s=_SETTLE * response_s,
        watch_s=_WATCH * response_s,
        expected_s=0.0,
        times=(),
        warnings=(),
        grounds=_grounds(sensor_type, bounds),
    )


def _grounds(sensor_type: SensorType, bounds: Bounds) -> Grounds:
    timing, beam = sensor_type.timing, bounds.hearing.sensor.beam(bounds.conditions.bench)
    return Grounds(
        need=(),
        reasons=(),
        air=None,
        points=(),
        echoes=(),
        beam=BeamGrounds(
            ka=beam.ka,
            half_angle_deg=math.degrees(math.asin(sine_at(beam, _HALF_POWER_DB))),
            near_field_mm=beam.near_field_mm,
            machine_radius_mm=None,
            bench_radius_mm=_bench_radius_mm(bounds),
            neighbour_spacing_mm=None,
            deepest_recess_mm=None,
        ),
        motion=None,
        teaching=TeachGrounds(0.0, timing.teach_timeout_s, 0.0, timing.teach_window_s),
        budgets=(),
        risks=(),
    )


def _bench_radius_mm(bounds: Bounds) -> float:
    return clear_radius_mm(
        bounds.hearing.sensor, min(bounds.last_mm, bounds.range_far_mm), bounds.conditions.bench
    )
