"""A plan in the making: steps, checks and times of one setting, what stands against them, and the plan itself."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

from rig.planning.account import (
    air_grounds,
    bench_echoes,
    machine_echoes,
    motion_grounds,
    point_grounds,
    smallest_plate_mm,
)
from rig.planning.bench_limits import positions_mm, slot_refusals
from rig.planning.case import Case
from rig.planning.checks import Zone, place_checks, scan_positions_mm
from rig.planning.facts import facts_of
from rig.planning.grounds import (
    BeamGrounds,
    EchoGrounds,
    Grounds,
    PointRisk,
    Reason,
    TeachGrounds,
    TimePart,
)
from rig.planning.marks import marks_of
from rig.planning.measuring import MeasuringDraft, draft_measuring, measuring_time
from rig.planning.pace import Pace, teach_refusals
from rig.planning.plan import Inspection, Plan
from rig.planning.refusal import Refusal, too_little
from rig.planning.risks import measured_risk, point_risk
from rig.planning.surroundings import beam_grounds, bench_radius_refusals, mounting_refusals
from rig.planning.teach_steps import refusal_sign, steps_of
from sequences.order import Setting
from wiring.profile import TargetKind
from wiring.saying import say
from wiring.terms import DetectionMode, OutputFunction, Verification

# A unit with ten times the noise of a good one changes its output more than once at these, 99 times of 100.
_SCAN_READINGS = 12


class Draft:
    """One whole setting of a case that nothing on the bench or at the machine stands against so far."""

    def __init__(self, case: Case, setting: Setting, zone: Zone, reasons: tuple[Reason, ...]) -> None:
        if setting.mode is None or setting.output_function is None:
            raise ValueError("a plan needs a whole setting")
        self._mode: DetectionMode = setting.mode
        self._function: OutputFunction = setting.output_function
        self._case, self._setting, self._zone, self._reasons = case, setting, zone, reasons
        self._steps = steps_of(case, setting)
        self._checks, self._left_out = place_checks(
            self._function, zone, case.order.checks, measured=case.measured
        )
        self._positions_mm = positions_mm(self._steps, self._checks)

    def refusals(self) -> Iterator[Refusal]:
        """What still stands against it, now that every position and time is known."""
        yield from slot_refusals(self._steps, self._checks, self._case.rig.target)
        yield from teach_refusals(self._pace, self._steps, self._teaching)
        yield from mounting_refusals(self._case, self._beam)
        yield from bench_radius_refusals(self._case, self._beam)
        yield from self._unheard()

    def plan(self) -> Plan:
        """The plan."""
        times, grounds = self._times(), self._grounds()
        retries, no_retry = self._retries()
        marks = tuple(marks_of(self._case, self._setting, grounds))
        zone, case = self._zone, self._case
        untold = self._measuring.untold if self._measuring else ()
        return Plan(
            sensor_type=case.sensor_type.name,
            mode=self._mode,
            output_function=self._function,
            set_points=tuple(self._setting.set_points_mm.items()),
            tolerance_mm=self._setting.tolerance_mm or 0.0,
            guard_mm=zone.edge_guard(zone.outer or zone.end),
            inspection=self._inspection(),
            steps=self._steps,
            checks=self._checks,
            method=case.method,
            rule=case.order.checks.rule,
            largest_risk=case.order.checks.largest_risk,
            measuring=self._measuring.measuring if self._measuring else None,
            scale=case.conditions.scale,
            teach_window_s=case.sensor_type.timing.teach_window_s,
            teach_timeout_s=case.sensor_type.timing.teach_timeout_s,
            refused=refusal_sign(case.sensor_type),
            retries=retries,
            led_shows_output=case.sensor_type.led_shows_output,
            settle_s=self._settle_s,
            watch_s=self._watch_s,
            expected_s=sum(part.seconds for part in times),
            times=times,
            warnings=(*self._left_out, *untold, *no_retry, *marks),
            grounds=grounds,
            scans_mm=self._scans_mm,
        )

    @cached_property
    def _measuring(self) -> MeasuringDraft | None:
        if not self._case.measured:
            return None
        return draft_measuring(self._case, self._setting, self._zone, self._checks)

    def _times(self) -> tuple[TimePart, ...]:
        parts = self._pace.parts(self._steps, self._checks, self._scans_mm)
        return parts if self._measuring is None else (*parts, measuring_time(self._case, self._measuring))

    @property
    def _response_s(self) -> float:
        timing = self._case.sensor_type.timing
        return max(timing.response_on_s, timing.response_off_s)

    @property
    def _settle_s(self) -> float:
        return self._case.order.checks.settle_factor * self._response_s

    @property
    def _watch_s(self) -> float:
        return self._case.order.checks.readings * self._response_s

    @cached_property
    def _scans_mm(self) -> tuple[tuple[float, ...], ...]:
        """Only where positions prove a unit, and by hand only if asked for: each is one more place for the person."""
        wanted, target = self._case.order.checks.scan_readings, self._case.rig.target
        if self._case.method is not Verification.POSITIONS or target.kind is TargetKind.SLOTS:
            return ()
        if wanted is None:
            wanted = _SCAN_READINGS if target.kind is TargetKind.STAGE else 0
        return tuple(scan_positions_mm(self._zone, wanted))

    @cached_property
    def _pace(self) -> Pace:
        rig, timing = self._case.rig, self._case.sensor_type.timing
        return Pace(rig, timing, self._settle_s + self._watch_s, rig.target.speed_mm_s)

    @cached_property
    def _teaching(self) -> TeachGrounds:
        return self._pace.teaching(self._steps)

    @cached_property
    def _beam(self) -> BeamGrounds:
        zone, farthest_mm = self._zone, self._case.need.farthest_mm or 0.0
        points_mm = self._setting.set_points_mm.values()
        outer_mm = max(farthest_mm, *points_mm) if points_mm else farthest_mm or zone.end / zone.scale
        return beam_grounds(self._case, outer_mm, self._positions_mm[-1])

    @cached_property
    def _bench_echoes(self) -> tuple[EchoGrounds, ...]:
        """The rig's target wherever a good unit detects it, nearest first."""
        off = self._function is OutputFunction.NC
        seen = {check.position_mm for check in self._checks if check.expected_on is not off}
        return tuple(bench_echoes(self._case, sorted(mm for mm in seen if mm is not None)))

    def _unheard(self) -> Iterator[Refusal]:
        """A target plate smaller than the standard target, and so small that it is not heard where it has to be."""
        side_mm, standard_mm = self._case.rig.target.side_mm, self._case.sensing.standard_target_mm
        farthest = self._bench_echoes[-1]
        if farthest.margin_db >= 0 or side_mm >= standard_mm:
            return
        yield too_little(
            say("target plate of the rig is too small to be heard at {at_mm:g} mm", at_mm=farthest.at_mm),
            side_mm,
            smallest_plate_mm(self._case, farthest.at_mm),
            "mm",
            "rig.target.side_mm",
            because="to a side",
        )

    def _retries(self) -> tuple[int, tuple[str, ...]]:
        """How often the sequence may be repeated, and why not at all where the teach window is too short."""
        if not self._case.sensor_type.retry_after_refusal:
            return 0, ()
        again_s = self._teaching.last_contact_s + self._pace.sequence_s(self._steps)
        if again_s > self._teaching.window_s:
            return 0, (
                say(
                    "a refused sequence is not tried again: after {again_s:.0f} s the unit takes no teaching",
                    again_s=again_s,
                ),
            )
        return 1, ()

    def _inspection(self) -> Inspection:
        supply, timing = self._case.sensor_type.supply, self._case.sensor_type.timing
        return Inspection(
            output_type=self._setting.output_type,
            current_min_a=supply.no_load_current_min_a,
            current_max_a=supply.no_load_current_max_a,
            availability_s=timing.availability_delay_s,
        )

    def _grounds(self) -> Grounds:
        case, setting = self._case, self._setting
        at_machine = tuple(machine_echoes(case, setting)) if case.order.need else ()
        return Grounds(
            need=facts_of(case.order.need),
            reasons=self._reasons,
            air=air_grounds(case),
            points=point_grounds(case, setting),
            echoes=(*at_machine, *self._bench_echoes),
            beam=self._beam,
            motion=motion_grounds(case),
            teaching=self._teaching,
            budgets=tuple(self._zone.doubt.budget(at_mm) for at_mm in self._positions_mm),
            risks=tuple(self._risks()),
        )

    def _risks(self) -> Iterator[PointRisk]:
        for point, at_mm in self._setting.set_points_mm.items():
            bench_mm = at_mm * self._zone.scale
            if self._case.measured:
                yield measured_risk(point, bench_mm, self._zone)
            else:
                yield point_risk(point, bench_mm, self._zone, self._checks)
