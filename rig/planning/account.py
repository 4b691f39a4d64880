"""Writes down the grounds of a plan: the figures of air, set points, echoes and budgets."""

from __future__ import annotations

from collections.abc import Iterator

from rig.planning.air import speed_of_sound_m_s
from rig.planning.case import Case
from rig.planning.echo import EchoMargin, Plate, echo_margin, largest_tilt_deg
from rig.planning.grounds import AirGrounds, EchoGrounds, MotionGrounds, PointGrounds
from rig.planning.machine_limits import fastest_m_s, least_tilt_deg
from rig.planning.rooms import rooms_of
from rig.statistics.numeric import root_between
from sequences.order import Setting


def air_grounds(case: Case) -> AirGrounds | None:
    """What the change of air does; None where the machine's air is not stated."""
    conditions, span = case.conditions, case.conditions.span
    if span is None:
        return None
    bench, middle = conditions.bench, conditions.machine
    speeds = [speed_of_sound_m_s(air) for air in (bench, middle, *span.corners())]
    return AirGrounds(
        bench_c=bench.temperature_c,
        bench_percent=bench.humidity_percent,
        bench_kpa=bench.pressure_kpa,
        coldest_c=span.coldest_c,
        warmest_c=span.warmest_c,
        driest_percent=span.driest_percent,
        dampest_percent=span.dampest_percent,
        pressure_kpa=span.pressure_kpa,
        middle_c=middle.temperature_c,
        middle_percent=middle.humidity_percent,
        bench_m_s=speeds[0].value_m_s,
        middle_m_s=speeds[1].value_m_s,
        compensated=conditions.compensated,
        scale=conditions.scale,
        published=all(speed.valid for speed in speeds),
    )


def point_grounds(case: Case, setting: Setting) -> tuple[PointGrounds, ...]:
    """Every set point at the machine and on the bench, with what it keeps clear of."""
    rooms, tolerance_mm = rooms_of(case.need), setting.tolerance_mm or 0.0
    found = []
    for point, at_mm in setting.set_points_mm.items():
        reach, band = case.reach(point), case.conditions.band(at_mm)
        found.append(
            PointGrounds(
                point=point,
                machine_mm=at_mm,
                bench_mm=taught_mm(case, at_mm),
                tolerance_mm=tolerance_mm,
                guard_mm=reach.guard_mm(at_mm, tolerance_mm),
                drift_nearest_mm=band.nearest_mm if band else at_mm,
                drift_farthest_mm=band.farthest_mm if band else at_mm,
                clear_of=rooms[point].clearances(reach, at_mm, tolerance_mm),
            )
        )
    return tuple(found)


def taught_mm(case: Case, machine_mm: float) -> float:
    """Where the target stands on the bench to teach a set point at the machine.

    A distance that is the same on the bench is taken as ordered; any other is one that can be set.
    """
    if case.conditions.scale == 1:
        return machine_mm
    return case.doubt.nearest(machine_mm * case.conditions.scale)


def machine_echoes(case: Case, setting: Setting) -> Iterator[EchoGrounds]:
    """How well the object of the need is heard where it may be."""
    need, hearing, airs = case.need, case.hearing, case.conditions.airs()
    points_mm = () if need.farthest_mm is not None else setting.set_points_mm.values()
    distances_mm = sorted({mm for mm in (need.nearest_mm, need.farthest_mm, *points_mm) if mm is not None})
    for at_mm in distances_mm:
        margin = hearing.worst_margin(at_mm, airs)
        tilt_deg = least_tilt_deg(case, setting) if at_mm == distances_mm[-1] else None
        if need.object is None:
            # The standard target is heard because the type promises it, whatever the formulas leave open.
            margin = EchoMargin(margin.db, ())
        yield _echo(hearing.words, at_mm, margin, tilt_deg, at_machine=True)


def bench_echoes(case: Case, positions_mm: list[float]) -> Iterator[EchoGrounds]:
    """How well the rig's target is heard at rising positions; its largest tilt at the last, where it is least."""
    side_mm, sensor = case.rig.target.side_mm, case.hearing.sensor
    words = f"plate {side_mm:g} x {side_mm:g} mm of the rig"
    for at_mm in positions_mm:
        last = at_mm == positions_mm[-1]
        tilt_deg = largest_tilt_deg(sensor.beam(case.conditions.bench), side_mm, at_mm) if last else None
        yield _echo(words, at_mm, _plate_margin(case, side_mm, at_mm), tilt_deg, at_machine=False)


def smallest_plate_mm(case: Case, at_mm: float) -> float:
    """Side of the smallest square plate that is heard on the bench at a distance; the standard target at most."""
    standard_mm, least_mm = case.sensing.standard_target_mm, 0.1
    if _plate_margin(case, standard_mm, at_mm).db <= 0:
        return standard_mm
    return root_between(lambda side_mm: _plate_margin(case, side_mm, at_mm).db, least_mm, standard_mm)


def _plate_margin(case: Case, side_mm: float, at_mm: float) -> EchoMargin:
    return echo_margin(case.hearing.sensor, Plate(side_mm, side_mm), at_mm, case.conditions.bench)


def motion_grounds(case: Case) -> MotionGrounds | None:
    """Whether passing objects are caught; None where nothing passes."""
    motion, timing = case.need.motion, case.sensor_type.timing
    if motion is None:
        return None
    speed_mm_s = 1000 * motion.speed_m_s
    return MotionGrounds(
        present_s=motion.object_length_mm / speed_mm_s,
        response_on_s=timing.response_on_s,
        absent_s=None if motion.gap_mm is None else motion.gap_mm / speed_mm_s,
        response_off_s=timing.response_off_s,
        fastest_m_s=fastest_m_s(case, motion),
    )


def _echo(
    target: str, at_mm: float, margin: EchoMargin, tilt_deg: float | None, *, at_machine: bool
) -> EchoGrounds:
    doubts = tuple(str(doubt) for doubt in margin.doubts)
    return EchoGrounds(target, at_mm, at_machine, margin.db, tilt_deg, doubts)
