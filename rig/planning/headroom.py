"""What a plan has to keep to, and how much of it is left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rig.planning.machine_limits import gap_needed_mm
from rig.planning.planned import Planned
from sequences.need import SupplyNeed
from sequences.words import SetPoint


@dataclass(frozen=True, slots=True)
class Headroom:
    """One limit.

    Attributes:
        what: what is limited, in words.
        here: its value in this plan; None where the order or the rig profile does not say.
        lowest: the least that passes, if there is such a limit.
        highest: the most that passes.

    """

    what: str
    here: float | None
    lowest: float | None
    highest: float | None
    unit: str

    @property
    def left(self) -> float | None:
        """How far the value may still move towards its nearer limit; None where there is no value."""
        if self.here is None:
            return None
        rooms = [self.here - self.lowest] if self.lowest is not None else []
        rooms += [self.highest - self.here] if self.highest is not None else []
        return min(rooms)


def headroom(planned: Planned) -> tuple[Headroom, ...]:
    """Every limit that a plan was held against."""
    return tuple(
        limit
        for limits in (_setting, _room, _around, _motion, _air, _supply, _teaching)
        for limit in limits(planned)
    )


def _setting(planned: Planned) -> Iterator[Headroom]:
    zone, setting, points = planned.zone, planned.setting, planned.setting.set_points_mm
    for point, at_mm in points.items():
        last_mm = None if point is SetPoint.NEAR else zone.last_point / zone.scale
        first_mm = None if point is SetPoint.FAR else zone.first_point / zone.scale
        yield Headroom(f"set point {point}", at_mm, first_mm, last_mm, "mm")
    if not points:
        return
    finest_mm = max(zone.smallest_tolerance(at_mm * zone.scale) for at_mm in points.values()) / zone.scale
    # The tolerances of two set points must not meet either.
    room_mm = zone.largest_tolerance if zone.inner is None else (zone.outer or 0.0) / 2 - zone.inner / 2
    largest_mm = min(zone.largest_tolerance, room_mm) / zone.scale
    yield Headroom("tolerance", setting.tolerance_mm, finest_mm, largest_mm, "mm")
    if zone.inner is not None and zone.outer is not None:
        smallest_mm = zone.smallest_window(zone.inner) / zone.scale
        yield Headroom("window", (zone.outer - zone.inner) / zone.scale, smallest_mm, None, "mm")


def _room(planned: Planned) -> Iterator[Headroom]:
    for one in planned.plan.grounds.points:
        drift_mm = max(one.machine_mm - one.drift_nearest_mm, one.drift_farthest_mm - one.machine_mm)
        if planned.case.conditions.span is not None:
            what = f"drift of set point {one.point} over the air"
            yield Headroom(what, drift_mm, None, one.tolerance_mm, "mm")
        for clearance in one.clear_of:
            what = f"from set point {one.point}, at its worst, to {clearance.of}"
            yield Headroom(what, clearance.spare_mm, 0.0, None, "mm")


def _around(planned: Planned) -> Iterator[Headroom]:
    beam, mounting, wanted = planned.plan.grounds.beam, planned.case.need.mounting, planned.case.need.object
    tilts_deg = [echo.largest_tilt_deg for echo in planned.plan.grounds.echoes if echo.at_machine]
    known_deg = [tilt_deg for tilt_deg in tilts_deg if tilt_deg is not None]
    if known_deg:
        tilt_deg = None if wanted is None else wanted.tilt_deg
        yield Headroom("object out of square", tilt_deg, None, min(known_deg), "degrees")
    if beam.machine_radius_mm is not None:
        what = "free beside the axis at the machine"
        yield Headroom(what, mounting.side_wall_mm, beam.machine_radius_mm, None, "mm")
    if beam.neighbour_spacing_mm is not None:
        what = "from axis to axis of the next unit"
        yield Headroom(what, mounting.neighbour_spacing_mm, beam.neighbour_spacing_mm, None, "mm")
    if beam.deepest_recess_mm is not None:
        yield Headroom("face set back in its hole", mounting.recess_mm, None, beam.deepest_recess_mm, "mm")
    free_mm = planned.case.rig.target.clear_radius_mm
    yield Headroom("free beside the axis on the bench", free_mm, beam.bench_radius_mm, None, "mm")


def _motion(planned: Planned) -> Iterator[Headroom]:
    wanted, grounds = planned.case.need.motion, planned.plan.grounds.motion
    if wanted is None or grounds is None:
        return
    yield Headroom("speed of the objects", wanted.speed_m_s, None, grounds.fastest_m_s, "m/s")
    if wanted.gap_mm is not None:
        needed_mm = gap_needed_mm(planned.case, wanted)
        yield Headroom("gap between two objects", wanted.gap_mm, needed_mm, None, "mm")


def _air(planned: Planned) -> Iterator[Headroom]:
    air, sensing = planned.case.need.air, planned.case.sensing
    if air is not None:
        limits = sensing.temperature_min_c, sensing.temperature_max_c
        yield Headroom("coldest air", air.coldest_c, *limits, "\u00b0C")
        yield Headroom("warmest air", air.warmest_c, *limits, "\u00b0C")


def _supply(planned: Planned) -> Iterator[Headroom]:
    wanted: SupplyNeed | None = planned.case.need.supply
    supply, output = planned.case.sensor_type.supply, planned.case.sensor_type.output
    limits = supply.voltage_min_v, supply.voltage_max_v
    if wanted is not None:
        yield Headroom("lowest supply at the machine", wanted.lowest_v, *limits, "V")
        yield Headroom("highest supply at the machine", wanted.highest_v, *limits, "V")
        yield Headroom("load on the output", wanted.load_current_a, None, output.load_current_max_a, "A")
    yield Headroom("supply of the rig", planned.case.rig.supply.voltage_v, *limits, "V")


def _teaching(planned: Planned) -> Iterator[Headroom]:
    times = planned.plan.grounds.teaching
    if times.longest_pause_s:
        yield Headroom("pause between two contacts", times.longest_pause_s, None, times.timeout_s, "s")
    yield Headroom("last contact after power-up", times.last_contact_s, None, times.window_s, "s")
