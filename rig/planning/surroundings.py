"""The room that a beam wants: beside it, between neighbours, and around a face set back in a hole."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rig.planning.air import Air
from rig.planning.beam import Beam
from rig.planning.beam_edge import sine_at, slope_at
from rig.planning.case import Case
from rig.planning.echo import EchoSensor, Plate
from rig.planning.grounds import BeamGrounds
from rig.planning.neighbours import spacing_beside_mm, spacing_over_wall_mm
from rig.planning.refusal import Refusal, too_little, too_much
from sequences.need import MountingNeed

# Where along the way to the farthest distance the beam is looked at for its widest place.
_SHARES = (1.0, 2 / 3, 1 / 3)
# The beam to half its power has to leave a hole without touching the rim (common practice, no source).
_RIM_DB = -3.0
_HALF_POWER_DB = -3.0


def beam_grounds(case: Case, outer_mm: float, bench_mm: float) -> BeamGrounds:
    """The beam of a type out to a distance at the machine and one on the bench."""
    air, mounting, sensor = case.conditions.machine, case.need.mounting, case.hearing.sensor
    beam = sensor.beam(air)
    needed = case.order.need is not None
    return BeamGrounds(
        ka=beam.ka,
        half_angle_deg=math.degrees(math.asin(sine_at(beam, _HALF_POWER_DB))),
        near_field_mm=beam.near_field_mm,
        machine_radius_mm=clear_radius_mm(sensor, outer_mm, air) if needed else None,
        bench_radius_mm=clear_radius_mm(sensor, bench_mm, case.conditions.bench),
        neighbour_spacing_mm=_spacing_mm(case) if needed else None,
        deepest_recess_mm=_deepest_recess_mm(beam, mounting),
    )


def mounting_refusals(case: Case, beam: BeamGrounds) -> Iterator[Refusal]:
    """Side walls, neighbours and recesses that the beam does not bear."""
    mounting = case.need.mounting
    wall_mm, radius_mm = mounting.side_wall_mm, beam.machine_radius_mm
    if wall_mm is not None and radius_mm is not None and wall_mm < radius_mm:
        what, key = "wall beside the beam may be heard", "need.mounting.side_wall_mm"
        yield too_little(what, wall_mm, radius_mm, "mm", key, because="from the axis")
    given_mm, spacing_mm = mounting.neighbour_spacing_mm, beam.neighbour_spacing_mm
    if given_mm is not None and spacing_mm is not None and given_mm < spacing_mm:
        what, key = "neighbours hear one another", "need.mounting.neighbour_spacing_mm"
        yield too_little(what, given_mm, spacing_mm, "mm", key, because="from axis to axis")
    yield from _recess_refusals(case, mounting, beam.deepest_recess_mm)


def bench_radius_refusals(case: Case, beam: BeamGrounds) -> Iterator[Refusal]:
    """A bench on which something else may be heard beside the target."""
    free_mm, wanted_mm = case.rig.target.clear_radius_mm, beam.bench_radius_mm
    if free_mm is not None and free_mm < wanted_mm:
        what, key = "something on the bench may be heard beside the target", "rig.target.clear_radius_mm"
        yield too_little(what, free_mm, wanted_mm, "mm", key, because="free around the axis")


def clear_radius_mm(sensor: EchoSensor, outer_mm: float, air: Air) -> float:
    """How near to the axis, out to a distance, an edge is heard that gives back as much as the standard target."""
    return max(_heard_beside_mm(sensor, share * outer_mm, air) for share in _SHARES)


def _heard_beside_mm(sensor: EchoSensor, path_mm: float, air: Air) -> float:
    margin_db = sensor.echo_db(sensor.range_target, path_mm, air) - sensor.weakest_echo_db()
    if margin_db <= 0:
        return 0.0
    # There and back, both ways off the axis.
    return path_mm * sine_at(sensor.beam(air), -margin_db / 2)


def _spacing_mm(case: Case) -> float:
    need, sensor, air = case.need, case.hearing.sensor, case.conditions.machine
    flat = isinstance(case.hearing.target, Plate) and not case.hearing.loose
    mirrors_mm = [] if need.background_mm is None else [need.background_mm]
    if flat and need.nearest_mm is not None and need.farthest_mm is not None:
        # Not the farthest alone: what the air swallows may make a nearer mirror the worse one.
        mirrors_mm += [need.farthest_mm, (need.nearest_mm + need.farthest_mm) / 2]
    over_mm = (spacing_over_wall_mm(sensor, mm, air) for mm in mirrors_mm)
    return max(spacing_beside_mm(sensor, air), *over_mm, case.sensor_type.body.transducer_diameter_mm)


def _deepest_recess_mm(beam: Beam, mounting: MountingNeed) -> float | None:
    if mounting.recess_diameter_mm is None:
        return None
    return max(0.0, mounting.recess_diameter_mm - beam.piston_mm) / 2 / slope_at(beam, _RIM_DB)


def _recess_refusals(case: Case, mounting: MountingNeed, deepest_mm: float | None) -> Iterator[Refusal]:
    if mounting.recess_mm is None or mounting.recess_diameter_mm is None or deepest_mm is None:
        return
    beam = case.hearing.sensor.beam(case.conditions.machine)
    if mounting.recess_mm <= deepest_mm:
        return
    if deepest_mm > 0:
        what, key = "sensing face lies so deep in its hole that the rim is heard", "need.mounting.recess_mm"
        yield too_much(what, mounting.recess_mm, deepest_mm, "mm", key)
    else:
        what, key = "hole is narrower than the sound that leaves it", "need.mounting.recess_diameter_mm"
        wide_mm = beam.piston_mm + 2 * mounting.recess_mm * slope_at(beam, _RIM_DB)
        yield too_little(what, mounting.recess_diameter_mm, wide_mm, "mm", key)
