"""The chance of each verdict on one set point, for a unit that looks many times while its output is read.

A simulated unit looks twice in its response time and changes its output when two looks in a row say so. So it has
several chances to detect a target that stands just beyond its operate point, and none to lose one again: its
differential travel is many times its noise. Single looks scatter normally, placement evenly.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from rig.planning.plan import Check, Plan, Requirement
from rig.risk.case import Case
from rig.statistics.edge_checks import Outcome
from rig.statistics.numeric import normal_below
from sequences.words import SetPoint

PLACES = 9
"""Midpoints that stand for an even distribution."""

_LOOKS_IN_A_RESPONSE = 2
_OFF_AND_ON = {
    SetPoint.NEAR: (Requirement.INNER_NOT_NEAR, Requirement.INNER_NOT_FAR),
    SetPoint.FAR: (Requirement.OUTER_NOT_FAR, Requirement.OUTER_NOT_NEAR),
    SetPoint.ONLY: (Requirement.OUTER_NOT_FAR, Requirement.OUTER_NOT_NEAR),
}


def evenly(half_width: float) -> tuple[float, ...]:
    """Midpoints of an even distribution about 0."""
    if half_width == 0:
        return (0.0,)
    return tuple(half_width * (2 * (index + 0.5) / PLACES - 1) for index in range(PLACES))


def outwards(point: SetPoint) -> int:
    """Which way is out of the zone at a set point, in distance."""
    return -1 if point is SetPoint.NEAR else 1


@dataclass(frozen=True, slots=True)
class Pair:
    """A check position and its proof, as far beyond the set point as they are out of the zone; None without a proof."""

    at_mm: float
    proof_mm: float | None

    @classmethod
    def of(cls, check: Check, point: SetPoint, point_mm: float) -> Pair:
        """The positions of a check of a set point that lies at `point_mm` on the bench."""
        sign = outwards(point)
        assert check.position_mm is not None, "a set point is checked with a target"
        proof_mm = None if check.proof_mm is None else sign * (check.proof_mm - point_mm)
        return cls(sign * (check.position_mm - point_mm), proof_mm)


@dataclass(frozen=True)
class Looks:
    """How one set point is judged.

    Attributes:
        outer: where the target must not be detected; `inner`: where it must be.
        noise_mm: standard deviation of one look.
        placement_mm: half-width of the error of placing the target.
        until_read: looks from the target's coming until the output is read.
        watched: looks while it is watched after that.

    """

    outer: Pair
    inner: Pair
    noise_mm: float
    placement_mm: float
    until_read: int
    watched: int

    @property
    def positions_mm(self) -> tuple[float, ...]:
        """Every position, and every proof there is."""
        every = (self.outer.at_mm, self.outer.proof_mm, self.inner.at_mm, self.inner.proof_mm)
        return tuple(mm for mm in every if mm is not None)

    def outcome(self, beyond_mm: float) -> Outcome:
        """How likely each verdict is for a unit that switches so far beyond its set point."""
        watched = self.watched
        wrong = (
            self._wrong_off(beyond_mm, self.outer.at_mm, watched),
            self._wrong_on(beyond_mm, self.inner.at_mm),
        )
        proven = (
            0.0 if self.outer.proof_mm is None else self._wrong_off(beyond_mm, self.outer.proof_mm, watched),
            0.0 if self.inner.proof_mm is None else self._wrong_on(beyond_mm, self.inner.proof_mm),
        )
        # Both are read once more at the end, not watched any more; a wrong answer then leaves the unit undecided.
        again = self._wrong_off(beyond_mm, self.outer.at_mm, 0)
        good = (1 - wrong[0]) * (1 - again) * (1 - wrong[1]) ** 2
        bad = 1 - (1 - wrong[0] * proven[0]) * (1 - wrong[1] * proven[1])
        return Outcome(good, bad, max(0.0, 1 - good - bad))

    def _wrong_off(self, beyond_mm: float, at_mm: float, watched: int) -> float:
        """Chance that the target is detected, or the output not steady, where it must not be detected."""
        return self._mean(
            lambda chance: 1 - (1 - chance) ** (self.until_read + watched - 1), beyond_mm, at_mm
        )

    def _wrong_on(self, beyond_mm: float, at_mm: float) -> float:
        """Chance that it is not detected in time where it must be."""
        return self._mean(lambda chance: (1 - chance) ** (self.until_read - 1), beyond_mm, at_mm)

    def _mean(self, of: Callable[[float], float], beyond_mm: float, at_mm: float) -> float:
        inside = (beyond_mm - at_mm - place for place in evenly(self.placement_mm))
        return math.fsum(of(normal_below(mm / self.noise_mm)) for mm in inside) / len(
            evenly(self.placement_mm)
        )


def looks_of(case: Case, point: SetPoint, point_mm: float) -> Looks:
    """How a case judges one set point that lies at `point_mm` on the bench."""
    off, on = (_find(case.plan, requirement) for requirement in _OFF_AND_ON[point])
    kind, target = case.kind, case.rig.target
    look_s = kind.response_s / _LOOKS_IN_A_RESPONSE
    # The target is in the beam from the middle of its swing on.
    until_read_s = max(target.settle_s, target.swing_s / 2) + case.plan.settle_s
    return Looks(
        outer=Pair.of(off, point, point_mm),
        inner=Pair.of(on, point, point_mm),
        noise_mm=case.noise_mm(point_mm),
        placement_mm=target.placement_mm,
        until_read=max(2, round(until_read_s / look_s)),
        watched=round(case.plan.watch_s / look_s),
    )


def _find(plan: Plan, requirement: Requirement) -> Check:
    return next(check for check in plan.checks if check.requirement is requirement)
