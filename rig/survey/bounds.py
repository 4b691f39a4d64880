"""What the data sheet and the bench let a survey expect of any unit of a type, whatever it is set to. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rig.planning.budget import Doubt, doubt_of
from rig.planning.checks import zone_of
from rig.planning.conditions import Conditions, conditions_of
from rig.planning.echo import Plate, echo_margin
from rig.planning.hearing import Hearing, hearing_of
from sequences.order import Setting
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.terms import DetectionMode

# Two positions lie in the smallest window then, and half-way between the first of them and the next is well inside.
_STEPS_IN_SMALLEST_WINDOW = 2.0
# A unit that still detects the target this far beyond its range is none of its type (common practice, no source).
_FAR_BEYOND_RANGE = 1.2
# A unit may be set beyond its range; further than this it hears nothing (common practice, no source).
_DEAF_FROM = 1.5


@dataclass(frozen=True, slots=True)
class Bounds:
    """Where to look for the zone of a unit, and what its ends may mean. Distances on the bench, in mm.

    Attributes:
        blind_zone_mm: farthest end of the blind zone of a sound unit.
        first_mm: nearest position that is read.
        blind_seen: whether that is close to the end of the blind zone, not where the reach of the target begins.
        blind_far_mm: a zone that begins nearer than this may begin with the blind zone.
        step_mm: from one position to the next; no window of the type fits in between.
        last_mm: farthest position that is read.
        range_near_mm, range_far_mm: between these the range of a sound unit ends.
        odd_mm: from here on, what is detected is detected by no unit of this type.

    """

    blind_zone_mm: float
    first_mm: float
    blind_seen: bool
    blind_far_mm: float
    step_mm: float
    last_mm: float
    range_near_mm: float
    range_far_mm: float
    odd_mm: float
    doubt: Doubt
    conditions: Conditions
    hearing: Hearing
    plate: Plate
    standard_plate: bool

    @property
    def range_seen(self) -> bool:
        """Whether the target reaches beyond the end of the range."""
        return self.last_mm > self.range_far_mm

    def search_positions_mm(self) -> Iterator[float]:
        """Where the near end of a zone is looked for, outwards, so that no window is passed over."""
        count = math.floor((min(self.range_far_mm, self.last_mm) - self.first_mm) / self.step_mm)
        for number in range(count + 1):
            yield self.doubt.nearest(self.first_mm + number * self.step_mm)

    def along_range_mm(self, share: float) -> float:
        """A position that far along the way from the first one to the end of the range."""
        end_mm = min(self.range_near_mm, self.last_mm)
        return self.doubt.nearest(self.first_mm + share * (end_mm - self.first_mm))

    def before(self, found_mm: float) -> float:
        """A position before the near end of a zone in which `found_mm` is the first that detects."""
        return max(self.blind_zone_mm, found_mm - 2 * self.step_mm)

    def heard(self, at_mm: float) -> bool:
        """Whether every sound unit hears the target there, if it is within the range."""
        if self.standard_plate:
            return True
        return echo_margin(self.hearing.sensor, self.plate, at_mm, self.conditions.bench).db >= 0


def bounds_of(sensor_type: SensorType, rig: RigProfile) -> Bounds:
    """The bounds of a sensor type on a rig; ValueError if the target does not reach into the sensing range."""
    sensing, target = sensor_type.sensing, rig.target
    conditions = conditions_of(None, sensing, rig.air)
    doubt = doubt_of(sensing, target, conditions)
    bench_sensing = conditions.on_bench(sensing)
    reach = Setting(mode=DetectionMode.FULL_RANGE, output_type=sensor_type.output.types[0])
    zone = zone_of(reach, bench_sensing, target, doubt, 1.0)
    ends = conditions.sheet_on_bench_mm(sensing.range_mm)
    guard_mm = doubt.expanded_mm(ends.farthest_mm)
    last_mm = min(target.farthest_mm, _DEAF_FROM * sensing.range_mm)
    step_mm = doubt.down(sensing.smallest_window_mm / _STEPS_IN_SMALLEST_WINDOW) or doubt.grain_mm
    if zone.blind_end + step_mm >= min(last_mm, ends.nearest_mm):
        raise ValueError(
            f"target reaches {target.nearest_mm:g} to {target.farthest_mm:g} mm; "
            f"allowed: a reach into the sensing range, {sensing.blind_zone_mm:g} to {sensing.range_mm:g} mm"
        )
    return Bounds(
        blind_zone_mm=bench_sensing.blind_zone_mm,
        first_mm=zone.blind_end,
        blind_seen=zone.blind_end > target.nearest_mm,
        blind_far_mm=zone.blind_end + doubt.expanded_mm(zone.blind_end),
        step_mm=step_mm,
        last_mm=last_mm,
        range_near_mm=ends.nearest_mm - guard_mm,
        range_far_mm=ends.farthest_mm + guard_mm,
        odd_mm=_FAR_BEYOND_RANGE * ends.farthest_mm,
        doubt=doubt,
        conditions=conditions,
        hearing=hearing_of(sensor_type, None),
        plate=Plate(target.side_mm, target.side_mm),
        standard_plate=target.side_mm >= sensing.standard_target_mm,
    )
