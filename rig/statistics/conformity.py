"""Whether a measured value proves that a unit keeps its tolerance (JCGM 106, ISO 14253-1)."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist
from typing import Self

from rig.events import Verdict
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


def decide(measured: float, expanded_uncertainty: float, tolerance: Interval) -> Verdict:
    """ISO 14253-1: good or bad only where the whole uncertainty interval says so, undecided between.

    The uncertainty counts against whoever has to prove: a supplier proves `good`, a customer `bad`. A value that is
    no finite number, or an uncertainty that is none or negative, is no evidence: undecided.
    """
    if not (math.isfinite(measured) and expanded_uncertainty >= 0):
        return Verdict.UNDECIDED
    if (
        measured - expanded_uncertainty >= tolerance.lower
        and measured + expanded_uncertainty <= tolerance.upper
    ):
        return Verdict.GOOD
    if measured + expanded_uncertainty < tolerance.lower or measured - expanded_uncertainty > tolerance.upper:
        return Verdict.BAD
    return Verdict.UNDECIDED


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


@dataclass(frozen=True, slots=True)
class GlobalRisks:
    """Shares of all items: `consumer` accepted and outside tolerance, `producer` rejected and inside it."""

    consumer: float
    producer: float


def global_risks(
    process: Process, standard_uncertainty: float, tolerance: Interval, acceptance: Interval
) -> GlobalRisks:
    """Global risks of accepting by a measured value inside `acceptance` (JCGM 106 clause 9)."""
    limits = (tolerance.lower, tolerance.upper, acceptance.lower, acceptance.upper)
    bends = tuple(
        limit + scale * standard_uncertainty
        for limit in limits
        if math.isfinite(limit)
        for scale in (-8, -5, -3, -1.5, 0, 1.5, 3, 5, 8)
    )

    def accepted_bad(true: float) -> float:
        return 0.0 if true in tolerance else acceptance.probability(true, standard_uncertainty)

    def rejected_good(true: float) -> float:
        return acceptance.outside(true, standard_uncertainty) if true in tolerance else 0.0

    return GlobalRisks(process.expectation(accepted_bad, bends), process.expectation(rejected_good, bends))


def guard_band_for_consumer_risk(
    risk: float, process: Process, standard_uncertainty: float, tolerance: Interval
) -> float:
    """Guard band at which the global consumer's risk is just `risk`; negative where the process allows it.

    Sought within 8 standard uncertainties to either side of the limits: where even the widest guarded rejection
    keeps below the risk, that is the answer. Raises ValueError unless the risk is between 1e-9 and 1.
    """
    if not 1e-9 <= risk < 1:
        raise ValueError(f"risk is {risk:g}; allowed: 1e-9 to less than 1")
    widest = 8 * standard_uncertainty

    def excess(guard_band: float) -> float:
        guarded = tolerance.guarded(guard_band)
        return global_risks(process, standard_uncertainty, tolerance, guarded).consumer - risk

    if excess(-widest) <= 0:
        return -widest
    return root_between(excess, -widest, min(widest, (tolerance.upper - tolerance.lower) / 2))
