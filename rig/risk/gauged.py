"""The chance of each verdict on one set point whose edge is measured: a value, its guard band, two limits."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rig.risk.case import Case
from rig.statistics.conformity import Interval
from rig.statistics.edge_checks import Outcome
from sequences.words import SetPoint


@dataclass(frozen=True, slots=True)
class Gauged:
    """How one measured set point is judged.

    Attributes:
        tolerance_mm: allowed distance of the operate point from its set point.
        guard_mm: guard band of the rule, with the uncertainty that the rig comes down to where that decides.
        noise_mm: standard deviation of a measured value about what the target's own scale would show.
        placement_mm: half-width of the error of placing the target, a part of it.

    """

    tolerance_mm: float
    guard_mm: float
    noise_mm: float
    placement_mm: float

    @property
    def positions_mm(self) -> tuple[float, ...]:
        """Where a verdict turns into another."""
        inner, outer = self.tolerance_mm - self.guard_mm, self.tolerance_mm + self.guard_mm
        return (-outer, -inner, inner, outer)

    def outcome(self, beyond_mm: float) -> Outcome:
        """How likely each verdict is for a unit that switches so far beyond its set point."""
        limits = Interval(-self.tolerance_mm, self.tolerance_mm)
        good = limits.guarded(self.guard_mm).probability(beyond_mm, self.noise_mm)
        bad = limits.guarded(-self.guard_mm).outside(beyond_mm, self.noise_mm)
        return Outcome(good, bad, max(0.0, 1 - good - bad))


def gauged_of(case: Case, point: SetPoint, point_mm: float, tolerance_mm: float) -> Gauged:
    """How a case judges one set point that lies at `point_mm` on the bench."""
    risk = next(one for one in case.plan.grounds.risks if one.point is point)
    target = case.rig.target
    tilt_mm = point_mm * (1 - math.cos(math.radians(target.tilt_deg)))
    # What is the same at every reading shows in no value.
    shared_mm = math.hypot(target.zero_doubt_mm, target.scale_doubt_percent / 100 * point_mm, tilt_mm)
    own_mm = math.sqrt(max(risk.doubt_mm**2 - shared_mm**2 / 3, (risk.doubt_mm / 4) ** 2))
    return Gauged(tolerance_mm, risk.guard_mm, own_mm, target.placement_mm)
