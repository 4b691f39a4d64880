"""Reading the output at four positions to prove that a set point lies within its tolerance, and what may go wrong.

The unit tells only 'detected' or not. To each side of the set point the target stands twice: within the tolerance
by a guard, where a right answer proves the unit good, and beyond it by the same guard, where a wrong answer proves
it bad. What answers wrongly within and rightly beyond lies too near to the limit to be told.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import NormalDist

from rig.events import Verdict
from rig.statistics.conformity import Process
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
class EdgeReading:
    """One position on the way to a verdict, and whether a unit exactly at its set point detects the target there."""

    position_mm: float
    detected: bool


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
    """Where to read one set point.

    Positions speak of operate points: the beam is cleared before each reading, so that the differential travel does
    not enter. `doubt_mm` is the standard uncertainty of one reading: of the target's place and of the unit's own
    spread together. Readings are taken to be independent; an error shared by all of them changes no risk at the
    limits of the tolerance, where one side decides.

    Raises ToleranceTooTight when the guard is not smaller than the tolerance.
    """

    set_point_mm: float
    tolerance_mm: float
    doubt_mm: float
    guard_mm: float
    side: DetectedSide

    def __post_init__(self) -> None:
        if not self.guard_mm < self.tolerance_mm:
            raise ToleranceTooTight(self.tolerance_mm, self.guard_mm)

    @property
    def inner(self) -> tuple[EdgeReading, EdgeReading]:
        """The two positions whose right answers prove the unit good, nearer first."""
        return self._readings(self.tolerance_mm - self.guard_mm)

    @property
    def outer(self) -> tuple[EdgeReading, EdgeReading]:
        """The two positions whose wrong answers prove the unit bad, nearer first."""
        return self._readings(self.tolerance_mm + self.guard_mm)

    def judge(self, inner: Sequence[bool | None], outer: Sequence[bool | None] = (None, None)) -> Verdict:
        """Verdict on 'detected' answers, nearer position first; None for a reading not taken.

        An outer position need only be read where the inner one of its side answered wrongly.
        """
        right = [_right(reading, seen) for reading, seen in zip(self.inner, inner, strict=True)]
        right_outside = [_right(reading, seen) for reading, seen in zip(self.outer, outer, strict=True)]
        if (False, False) in zip(right, right_outside, strict=True):
            return Verdict.BAD
        return Verdict.GOOD if right == [True, True] else Verdict.UNDECIDED

    def outcome(self, switching_mm: float) -> Outcome:
        """How likely each verdict is for a unit that really switches at a distance."""
        right = [self._right_chance(reading, switching_mm) for reading in self.inner]
        right_outside = [self._right_chance(reading, switching_mm) for reading in self.outer]
        not_bad = math.prod(
            1 - (1 - near) * (1 - far) for near, far in zip(right, right_outside, strict=True)
        )
        good = math.prod(right)
        return Outcome(good, 1 - not_bad, not_bad - good)

    def risks(self, process: Process) -> EdgeRisks:
        """Shares of wrong and open verdicts over units whose true switching distances spread like `process`."""
        low, high = self.set_point_mm - self.tolerance_mm, self.set_point_mm + self.tolerance_mm
        bends = tuple(
            limit + shift + scale * self.doubt_mm
            for limit in (low, high)
            for shift in (-self.guard_mm, 0, self.guard_mm)
            for scale in (-6, -3, -1.5, 0, 1.5, 3, 6)
        )

        def share(of: Callable[[float], float]) -> float:
            return process.expectation(of, bends)

        return EdgeRisks(
            passed_outside=share(lambda x: 0.0 if low <= x <= high else self.outcome(x).good),
            failed_inside=share(lambda x: self.outcome(x).bad if low <= x <= high else 0.0),
            undecided=share(lambda x: self.outcome(x).undecided),
        )

    def _readings(self, distance_mm: float) -> tuple[EdgeReading, EdgeReading]:
        nearer = self.side is DetectedSide.NEARER
        return (
            EdgeReading(self.set_point_mm - distance_mm, nearer),
            EdgeReading(self.set_point_mm + distance_mm, not nearer),
        )

    def _right_chance(self, reading: EdgeReading, switching_mm: float) -> float:
        outwards_mm = switching_mm - reading.position_mm
        expected_nearer = reading.position_mm < self.set_point_mm
        return normal_below((outwards_mm if expected_nearer else -outwards_mm) / self.doubt_mm)


def place_edge_checks(
    set_point_mm: float,
    tolerance_mm: float,
    *,
    placement_mm: float,
    spread_mm: float,
    side: DetectedSide,
    risk: float = 0.02275,
) -> EdgeChecks:
    """Positions at which no unit outside tolerance passes, and none inside fails, with more than a risk.

    `placement_mm` and `spread_mm` are standard uncertainties of the target's place and of the unit's operate point.
    The default risk is that of two standard uncertainties. Raises ToleranceTooTight when no positions do that,
    ValueError for a risk outside 0 to 1/2 or without any uncertainty.
    """
    if not 0 < risk < 0.5:
        raise ValueError(f"risk is {risk:g}; allowed: between 0 and 0.5")
    doubt_mm = math.hypot(placement_mm, spread_mm)
    if not doubt_mm > 0:
        raise ValueError(f"placement and spread come to {doubt_mm:g} mm; allowed: more than 0")
    guard_mm = -NormalDist().inv_cdf(risk) * doubt_mm
    return EdgeChecks(set_point_mm, tolerance_mm, doubt_mm, guard_mm, side)


def _right(reading: EdgeReading, seen: bool | None) -> bool | None:
    return None if seen is None else seen is reading.detected
