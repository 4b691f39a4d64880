"""Reading the output at four positions to prove that a set point lies within its tolerance, and what may go wrong.

The unit tells only 'detected' or not. To each side of the set point the target stands twice: within the tolerance
by a guard, where a right answer proves the unit good, and beyond it by the same guard, where a wrong answer proves
it bad. What answers wrongly within and rightly beyond lies too near to the limit to be told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from rig.statistics.numeric import normal_below


class ToleranceTooTight(ValueError):
    """The positions that prove a unit good would cross; `smallest_mm` is the least tolerance that could be proven."""

    def __init__(self, tolerance_mm: float, smallest_mm: float) -> None:
        self.smallest_mm = smallest_mm
        super().__init__(
            f"a tolerance of {tolerance_mm:g} mm cannot be proven; allowed: more than {smallest_mm:.3g} mm"
        )


class DetectedSide(StrEnum):
    """On which side of a set point the unit detects."""

    NEARER = "nearer"
    FARTHER = "farther"


@dataclass(frozen=True, slots=True)
class Outcome:
    """Probabilities of the three verdicts; they add up to 1."""

    good: float
    bad: float
    undecided: float


@dataclass(frozen=True, slots=True)
class EdgeRisks:
    """Shares of all units: passed though outside tolerance, failed though inside it, left undecided."""

    passed_outside: float
    failed_inside: float
    undecided: float


@dataclass(frozen=True, slots=True)
class EdgeChecks:
    """Where to read one set point; all places are told from it, away from the face counting up.

    They speak of operate points: the beam is cleared before each reading, so that the differential travel does
    not enter. `doubt_mm` is the standard uncertainty of one reading: of the target's place and of the unit's own
    spread together. Readings are taken to be independent; an error shared by all of them changes no risk at the
    limits of the tolerance, where one side decides.

    Raises ToleranceTooTight when the guard is not smaller than the tolerance.
    """

    tolerance_mm: float
    doubt_mm: float
    guard_mm: float

    def __post_init__(self) -> None:
        if not self.guard_mm < self.tolerance_mm:
            raise ToleranceTooTight(self.tolerance_mm, self.guard_mm)

    @property
    def inner_mm(self) -> tuple[float, float]:
        """The two positions whose right answers prove the unit good, nearer first."""
        return -(self.tolerance_mm - self.guard_mm), self.tolerance_mm - self.guard_mm

    @property
    def outer_mm(self) -> tuple[float, float]:
        """The two positions whose wrong answers prove the unit bad, nearer first."""
        return -(self.tolerance_mm + self.guard_mm), self.tolerance_mm + self.guard_mm

    def outcome(self, off_mm: float) -> Outcome:
        """How likely each verdict is for a unit that really switches so far from its set point."""
        right = [self._right_chance(position_mm, off_mm) for position_mm in self.inner_mm]
        right_outside = [self._right_chance(position_mm, off_mm) for position_mm in self.outer_mm]
        not_bad = math.prod(
            1 - (1 - near) * (1 - far) for near, far in zip(right, right_outside, strict=True)
        )
        good = math.prod(right)
        return Outcome(good, 1 - not_bad, not_bad - good)

    def _right_chance(self, position_mm: float, off_mm: float) -> float:
        outwards_mm = off_mm - position_mm
        return normal_below((outwards_mm if position_mm < 0 else -outwards_mm) / self.doubt_mm)
