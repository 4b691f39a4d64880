"""Whether values may come from one normal distribution: the Anderson-Darling test, mean and spread estimated."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, stdev

from rig.statistics.numeric import normal_below

FEWEST = 8
"""With fewer values the test tells nothing (D'Agostino and Stephens give its formula from 8 values on)."""
DOUBTFUL = 0.05
"""Below this probability the values are said not to be normal."""
_SMALLEST = 1e-300


@dataclass(frozen=True, slots=True)
class Normality:
    """The test of some values.

    Attributes:
        statistic: A squared with the correction for the number of values.
        p_value: how probable values at least as far from a normal distribution are if they come from one.

    """

    statistic: float
    p_value: float

    @property
    def doubtful(self) -> bool:
        """Whether the values are hardly those of one normal distribution."""
        return self.p_value < DOUBTFUL


def normality_of(values: Sequence[float]) -> Normality | None:
    """Test values; None for too few, or if all are alike.

    R. B. D'Agostino and M. A. Stephens, Goodness-of-Fit Techniques (1986), table 4.9, case 3.
    """
    count = len(values)
    if count < FEWEST or (spread := stdev(values)) == 0.0:
        return None
    mean = fmean(values)
    below = sorted((value - mean) / spread for value in values)
    total = math.fsum(
        (2 * number - 1)
        * (
            math.log(max(normal_below(below[number - 1]), _SMALLEST))
            + math.log(max(normal_below(-below[count - number]), _SMALLEST))
        )
        for number in range(1, count + 1)
    )
    raw = -count - total / count
    statistic = raw * (1 + 0.75 / count + 2.25 / count**2)
    return Normality(statistic, _p_value(statistic))


def _p_value(statistic: float) -> float:
    a = statistic
    if a < 0.2:
        return 1 - math.exp(-13.436 + 101.14 * a - 223.73 * a**2)
    if a < 0.34:
        return 1 - math.exp(-8.318 + 42.796 * a - 59.938 * a**2)
    if a < 0.6:
        return math.exp(0.9177 - 4.279 * a - 1.38 * a**2)
    if a <= 13:
        return math.exp(1.2937 - 5.709 * a + 0.0186 * a**2)
    return 0.0
