"""Whether a measured value proves that a unit keeps its tolerance (JCGM 106, ISO 14253-1)."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Self

from rig.statistics.numeric import integral, normal_below, root_between


class NothingAcceptable(ValueError):
    """The guard bands meet: no measured value could prove conformity."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A tolerance or acceptance interval; a limit that is endless does not exist. Raises ValueError if it falls."""

    lower: float = -math.inf
    upper: float = math.inf

    def __post_init__(self) -> None:
        if not self.lower <= self.upper:
            raise ValueError(f"lower limit {self.lower:g} lies above upper limit {self.upper:g}")

    @classmethod
    def of(cls, lower: float | None, upper: float | None) -> Self:
        """The interval between two limits; None: there is none."""
        return cls(-math.inf if lower is None else lower, math.inf if upper is None else upper)

    def __contains__(self, value: float) -> bool:
        return self.lower <= value <= self.upper

    def probability(self, mean: float, standard_deviation: float) -> float:
        """Probability that a normal value lies inside; the deviation must be above 0."""
        low, high = ((limit - mean) / standard_deviation for limit in (self.lower, self.upper))
        # From the side of the smaller tail, where small differences keep their digits.
        return normal_below(-low) - normal_below(-high) if low > 0 else normal_below(high) - normal_below(low)

    def outside(self, mean: float, standard_deviation: float) -> float:
        """Probability that a normal value lies outside; the deviation must be above 0."""
        low, high = ((limit - mean) / standard_deviation for limit in (self.lower, self.upper))
        return normal_below(low) + normal_below(-high)

    def guarded(self, guard_band: float) -> Interval:
        """The acceptance interval inside this tolerance interval (JCGM 106 clause 8).

        A guard band of 0 is simple acceptance; the expanded uncertainty U is the customary guarded acceptance;
        a negative one is guarded rejection. Raises NothingAcceptable when the guard bands meet.
        """
        if not self.lower + guard_band <= self.upper - guard_band:
            raise NothingAcceptable(
                f"guard bands of {guard_band:g} leave nothing of a tolerance {self.upper - self.lower:g} wide; "
                f"allowed: up to {(self.upper - self.lower) / 2:g}"
            )
        return Interval(self.lower + guard_band, self.upper - guard_band)


def conformance_probability(measured: float, standard_uncertainty: float, tolerance: Interval) -> float:
    """Probability that the true value lies within tolerance, given one measured value (JCGM 106 clause 7)."""
    return tolerance.probability(measured, standard_uncertainty)


def specific_risk(measured: float, standard_uncertainty: float, tolerance: Interval) -> float:
    """Probability that the true value of an item with this measured value lies outside tolerance."""
    return tolerance.outside(measured, standard_uncertainty)


def guard_band_for_risk(risk: float, standard_uncertainty: float, tolerance: Interval) -> float:
    """Least guard band for which no accepted item is outside tolerance with more than a specific risk.

    1.645 standard uncertainties for 5 % where the tolerance is wide. Raises NothingAcceptable where even a value
    in the middle carries more risk, ValueError unless the risk is between 0 and 1/2.
    """
    if not 0 < risk < 0.5:
        raise ValueError(f"risk is {risk:g}; allowed: between 0 and 0.5")
    one_sided = -NormalDist().inv_cdf(risk) * standard_uncertainty
    widest = (tolerance.upper - tolerance.lower) / 2
    if math.isinf(widest):
        return one_sided

    def spare(guard_band: float) -> float:
        return risk - specific_risk(tolerance.lower + guard_band, standard_uncertainty, tolerance)

    if spare(widest) < 0:
        raise NothingAcceptable(
            f"even in the middle of a tolerance {2 * widest:g} wide the risk is {risk - spare(widest):.3g}, with a "
            f"standard uncertainty of {standard_uncertainty:g}; allowed: up to {risk:g}"
        )
    return root_between(spare, 0.0, widest)


@dataclass(frozen=True, slots=True)
class Process:
    """How the true values of many items spread.

    `bends` are rising points between which the density is smooth and slow; beyond the first and last it is nothing.
    """

    density: Callable[[float], float]
    bends: tuple[float, ...]

    @classmethod
    def normal(cls, mean: float, standard_deviation: float) -> Self:
        """A normal process."""
        spread = NormalDist(mean, standard_deviation)
        return cls(
            spread.pdf, tuple(mean + scale * standard_deviation for scale in (-9, -6, -4, -2, 0, 2, 4, 6, 9))
        )

    def expectation(self, function: Callable[[float], float], bends: tuple[float, ...]) -> float:
        """Mean of a function of the true value, over all items."""
        first, last = self.bends[0], self.bends[-1]
        points = sorted({*self.bends, *(point for point in bends if first < point < last)})
        return integral(lambda value: self.density(value) * function(value), points)


def global_consumer_risk(
    process: Process, standard_uncertainty: float, tolerance: Interval, acceptance: Interval
) -> float:
    """Share of all items that are accepted and outside of tolerance (JCGM 106, clause 9)."""

    def accepted_bad(true: float) -> float:
        return 0.0 if true in tolerance else acceptance.probability(true, standard_uncertainty)

    return process.expectation(accepted_bad, bends_at((tolerance, acceptance), standard_uncertainty))


def global_producer_risk(
    process: Process, standard_uncertainty: float, tolerance: Interval, acceptance: Interval
) -> float:
    """Share of all items that are rejected and inside of tolerance (JCGM 106, clause 9)."""

    def rejected_good(true: float) -> float:
        return acceptance.outside(true, standard_uncertainty) if true in tolerance else 0.0

    return process.expectation(rejected_good, bends_at((tolerance, acceptance), standard_uncertainty))


def bends_at(intervals: Iterable[Interval], standard_uncertainty: float) -> tuple[float, ...]:
    """Where the chance of measuring a value inside one of these intervals turns with the true value."""
    return tuple(
        limit + scale * standard_uncertainty
        for interval in intervals
        for limit in (interval.lower, interval.upper)
        if math.isfinite(limit)
        for scale in (-8, -5, -3, -1.5, 0, 1.5, 3, 5, 8)
    )
