"""Capability: how the spread of a process compares with its tolerance, and how surely that is known.

After NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6. Spread is the standard deviation of all values. Where
the process is not shown to be in control the same figures say only what it did in the time that was looked at:
ISO 22514-1 (from memory) then speaks of performance, Pp and Ppk, and so do the words here.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import NormalDist, fmean, stdev

from rig.control.chart import BASELINE
from rig.control.normality import Normality, normality_of
from rig.statistics.numeric import normal_below

COVERAGE = 0.95
FEWEST = 10
"""With fewer values the bounds are so wide that nothing is said (our choice)."""
_ENOUGH = 50
"""Below this a reader is told how few there are (common practice, no source)."""

Bounds = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Capability:
    """A process against two limits; every figure in the unit of its values.

    Attributes:
        potential: Cp, tolerance over six standard deviations.
        actual: Cpk, distance of the mean to the nearer limit over three standard deviations.
        outside: values seen beyond a limit.
        expected_outside: share beyond the limits if the values are normal.
        in_control: whether the chart of these values gives no signal.
        normality: the test of the values; None for too few.

    """

    count: int
    mean: float
    spread: float
    low: float
    high: float
    potential: float
    potential_bounds: Bounds
    actual: float
    actual_bounds: Bounds
    outside: int
    expected_outside: float
    in_control: bool
    normality: Normality | None

    @property
    def names(self) -> tuple[str, str]:
        """What the two figures are called: Pp and Ppk where the process is not shown to be in control."""
        return ("Cp", "Cpk") if self.in_control and self.count >= BASELINE else ("Pp", "Ppk")

    def warnings(self) -> Iterator[str]:
        """What a reader has to know before they believe the figures."""
        if not self.in_control:
            yield (
                "not in control: these figures say what the process did here, not what it will do; find the cause "
                "of the signals first"
            )
        if self.normality is None:
            yield f"too few values to test whether they are normal ({self.count})"
        elif self.normality.doubtful:
            yield (
                f"not normal (Anderson-Darling test, p = {self.normality.p_value:.2g}): the share beyond the limits "
                "and the bounds below are not to be relied on; look at the values themselves"
            )
        if self.count < _ENOUGH:
            yield f"only {self.count} values: the bounds say how little that tells"


def capability_of(values: Sequence[float], low: float, high: float, *, in_control: bool) -> Capability | None:
    """Hold values against two limits; None for too few, or if all are alike.

    Raises ValueError for limits that do not rise.
    """
    if not low < high:
        raise ValueError(f"limits have to rise (given {low:g} and {high:g})")
    count = len(values)
    if count < FEWEST or (spread := stdev(values)) == 0.0:
        return None
    mean = fmean(values)
    potential, actual = indices(mean, spread, low, high)
    return Capability(
        count=count,
        mean=mean,
        spread=spread,
        low=low,
        high=high,
        potential=potential,
        potential_bounds=potential_bounds(potential, count),
        actual=actual,
        actual_bounds=actual_bounds(actual, count),
        outside=sum(not low <= value <= high for value in values),
        expected_outside=normal_below((low - mean) / spread) + normal_below((mean - high) / spread),
        in_control=in_control,
        normality=normality_of(values),
    )


def indices(mean: float, spread: float, low: float, high: float) -> tuple[float, float]:
    """Cp and Cpk."""
    return (high - low) / (6 * spread), min(high - mean, mean - low) / (3 * spread)


def potential_bounds(potential: float, count: int) -> Bounds:
    """Bounds of Cp for 95 %, exact for normal values: the variance has a chi-square distribution."""
    from scipy.special import chdtri  # its import takes longer than all the rest

    freedom = count - 1
    low, high = (float(chdtri(freedom, tail)) for tail in ((1 + COVERAGE) / 2, (1 - COVERAGE) / 2))
    return potential * math.sqrt(low / freedom), potential * math.sqrt(high / freedom)


def actual_bounds(actual: float, count: int) -> Bounds:
    """Bounds of Cpk for 95 %, by the normal approximation.

    NIST/SEMATECH e-Handbook 6.1.6; A. F. Bissell, Applied Statistics 39 (1990) 331-340.
    """
    factor = NormalDist().inv_cdf((1 + COVERAGE) / 2)
    half = factor * math.sqrt(1 / (9 * count) + actual**2 / (2 * (count - 1)))
    return actual - half, actual + half
