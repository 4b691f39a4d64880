"""The noncentral t distribution: how a mean in units of its own measured spread is distributed about a limit."""

from __future__ import annotations

import math
from functools import lru_cache

from rig.statistics.numeric import normal_below, weighted_points

# In standard deviations of the measured spread; beyond them lies less than 1e-16 of it.
_BENDS = (-8.5, -6, -4, -2, 0, 2, 4, 6, 9, 13)


def noncentral_t_below(t: float, freedom: int, offset: float) -> float:
    """Probability that (normal + offset) / (spread measured with so many degrees of freedom) lies below `t`.

    The spread s is in units of the true one: P = integral of Phi(t s - offset) over the density of s, whose square
    times the degrees of freedom is chi-squared (definition of the distribution). Good to 1e-9 where limits are up to 12
    standard deviations away.
    """
    return math.fsum(weight * normal_below(t * s - offset) for s, weight in _spreads(freedom))


@lru_cache(maxsize=64)
def _spreads(freedom: int) -> tuple[tuple[float, float], ...]:
    """Measured spreads in units of the true one, with the probability that goes with each."""
    bends = sorted({max(0.0, 1 + bend / math.sqrt(2 * freedom)) for bend in _BENDS})
    half = freedom / 2
    log_front = math.log(2) + half * math.log(half) - math.lgamma(half)

    def density(s: float) -> float:
        return math.exp(log_front + (freedom - 1) * math.log(s) - half * s * s)

    return tuple((s, weight * density(s)) for s, weight in weighted_points(bends))
