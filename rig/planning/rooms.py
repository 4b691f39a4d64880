"""The room of a set point: between the objects that must be reported and what must not be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from rig.planning.budget import Doubt
from rig.planning.conditions import Conditions
from rig.planning.grounds import Clearance
from rig.statistics.numeric import root_between
from sequences.datasheet import Sensing
from sequences.need import Need
from sequences.words import SetPoint

Tolerance = Callable[[float], float]
"""The tolerance of a set point at a distance, where it is not the same everywhere."""

# No set point lies beyond, whatever a need says.
_FARTHEST_MM = 20_000.0


@dataclass(frozen=True, slots=True)
class Thing:
    """Something at the machine that a set point has to keep clear of; `must_be_seen` or must not."""

    words: str
    at_mm: float
    key: str
    must_be_seen: bool


@dataclass(frozen=True, slots=True)
class Reach:
    """How near and how far one set point may make the output switch, at the machine.

    Over the machine's air, with the tolerance and its guard; and with the differential travel on the side where
    the output lets go: outwards for the outer edge of the zone, inwards for the inner one.
    """

    point: SetPoint
    sensing: Sensing
    conditions: Conditions
    doubt: Doubt

    def guard_mm(self, at_mm: float, tolerance_mm: float) -> float:
        """Expanded uncertainty of the farthest operate point inside tolerance."""
        scale = self.conditions.scale
        return self.doubt.expanded_mm((at_mm + tolerance_mm) * scale) / scale

    def nearest_mm(self, at_mm: float, tolerance_mm: float) -> float:
        """The nearest distance at which the output may still change."""
        travel_mm = self._travel_mm(at_mm - tolerance_mm) if self.point is SetPoint.NEAR else 0.0
        return at_mm * (1 - self.conditions.drift_inward) - self._doubt_mm(at_mm, tolerance_mm) - travel_mm

    def farthest_mm(self, at_mm: float, tolerance_mm: float) -> float:
        """The farthest distance at which the output may still change."""
        travel_mm = 0.0 if self.point is SetPoint.NEAR else self._travel_mm(at_mm + tolerance_mm)
        return at_mm * (1 + self.conditions.drift_outward) + self._doubt_mm(at_mm, tolerance_mm) + travel_mm

    def finest_mm(self, at_mm: float) -> float:
        """The least tolerance that the rig can prove and that the machine's air leaves room for."""
        scale = self.conditions.scale
        provable_mm = self.doubt.beyond(at_mm * scale + self.doubt.grain_mm, guards=2.0) / scale - at_mm
        return max(provable_mm, self.drift_mm(at_mm))

    def drift_mm(self, at_mm: float) -> float:
        """How far the machine's air may move the set point, to the side where it moves it most."""
        return at_mm * max(self.conditions.drift_inward, self.conditions.drift_outward)

    def _doubt_mm(self, at_mm: float, tolerance_mm: float) -> float:
        return tolerance_mm + self.guard_mm(at_mm, tolerance_mm)

    def _travel_mm(self, operate_mm: float) -> float:
        return self.sensing.hysteresis_largest_mm(max(0.0, operate_mm))


@dataclass(frozen=True, slots=True)
class Room:
    """What lies to either side of a set point, None where nothing is known to."""

    inner: Thing | None
    outer: Thing | None

    def clearances(self, reach: Reach, at_mm: float, tolerance_mm: float) -> tuple[Clearance, ...]:
        """What is left on either side; negative where a thing is not kept clear of."""
        found = []
        if self.inner is not None:
            spare_mm = reach.nearest_mm(at_mm, tolerance_mm) - self.inner.at_mm
            found.append(Clearance(self.inner.words, self.inner.at_mm, spare_mm))
        if self.outer is not None:
            spare_mm = self.outer.at_mm - reach.farthest_mm(at_mm, tolerance_mm)
            found.append(Clearance(self.outer.words, self.outer.at_mm, spare_mm))
        return tuple(found)


def rooms_of(need: Need) -> dict[SetPoint, Room]:
    """The rooms of the set points of every mode that a need leaves."""
    nearest = _thing("the nearest object", need.nearest_mm, "nearest_mm", must_be_seen=True)
    farthest = _thing("the farthest object", need.farthest_mm, "farthest_mm", must_be_seen=True)
    front = _thing("what stands in front", need.foreground_mm, "foreground_mm", must_be_seen=False)
    behind = _thing("the background", need.background_mm, "background_mm", must_be_seen=False)
    return {
        SetPoint.ONLY: Room(farthest, behind),
        SetPoint.FAR: Room(farthest, behind),
        SetPoint.NEAR: Room(front, nearest),
    }


def _thing(words: str, at_mm: float | None, key: str, *, must_be_seen: bool) -> Thing | None:
    return None if at_mm is None else Thing(words, at_mm, f"need.{key}", must_be_seen)


def nearest_point_mm(reach: Reach, inner_mm: float, tolerance: Tolerance) -> float:
    """The nearest set point that keeps clear of something at `inner_mm`; its tolerance may depend on it."""
    return _point_mm(lambda mm: reach.nearest_mm(mm, tolerance(mm)) - inner_mm)


def farthest_point_mm(reach: Reach, outer_mm: float, tolerance: Tolerance) -> float:
    """The farthest set point that keeps clear of something at `outer_mm`; 0 if none does."""
    return _point_mm(lambda mm: reach.farthest_mm(mm, tolerance(mm)) - outer_mm)


def first_point_mm(reach: Reach, first_mm: float, tolerance: Tolerance) -> float:
    """The nearest set point whose tolerance and guard keep to positions from `first_mm` on."""
    return _point_mm(lambda mm: mm - tolerance(mm) - reach.guard_mm(mm, tolerance(mm)) - first_mm)


def last_point_mm(last_mm: float, tolerance: Tolerance) -> float:
    """The farthest set point whose tolerance keeps to positions up to `last_mm`; 0 if none does."""
    return _point_mm(lambda mm: mm + tolerance(mm) - last_mm)


def _point_mm(over_mm: Callable[[float], float]) -> float:
    return root_between(over_mm, 0.0, _FARTHEST_MM) if over_mm(0.0) < 0 < over_mm(_FARTHEST_MM) else 0.0
