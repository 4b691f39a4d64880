"""Bounds of a share that was seen in so many trials (Clopper and Pearson, Biometrika 26 (1934) 404-413)."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from rig.statistics.numeric import root_between

# Lentz's way needs about the square root of the larger shape; this is enough for a thousand million trials.
_MOST_TERMS = 100_000
_NEAR_ZERO = 1e-300
_EXACT_ENOUGH = 1e-15


@dataclass(frozen=True, slots=True)
class Bounds:
    """The shares between which the true share lies, with at least the coverage that was asked for."""

    lower: float
    upper: float

    def __contains__(self, share: float) -> bool:
        return self.lower <= share <= self.upper


@lru_cache(maxsize=4096)
def clopper_pearson(count: int, trials: int, coverage: float = 0.95) -> Bounds:
    """Two-sided bounds of a share from `count` of `trials`; never too narrow, whatever the true share.

    Without trials nothing is known: 0 to 1. With none, or all, of the trials the bound on that side is 0, or 1, and
    half of the doubt stays on the other. Raises ValueError for a count that cannot be, or a coverage outside 0 to 1.
    """
    if not 0 <= count <= trials:
        raise ValueError(f"count is {count} of {trials}; allowed: 0 to the number of trials")
    if not 0 < coverage < 1:
        raise ValueError(f"coverage is {coverage:g}; allowed: between 0 and 1")
    doubt = (1 - coverage) / 2
    lower = 0.0 if count == 0 else beta_quantile(doubt, count, trials - count + 1)
    upper = 1.0 if count == trials else beta_quantile(1 - doubt, count + 1, trials - count)
    return Bounds(lower, upper)


def lower_bound(count: int, trials: int, confidence: float = 0.95) -> float:
    """One-sided lower bound. Raises ValueError as above."""
    return clopper_pearson(count, trials, 2 * confidence - 1).lower


def beta_quantile(probability: float, a: float, b: float) -> float:
    """Quantile of the beta distribution, to the last bits."""
    return root_between(lambda x: beta_below(x, a, b) - probability, 0.0, 1.0)


def beta_below(x: float, a: float, b: float) -> float:
    """Probability that a beta-distributed value lies below `x`: the regularised incomplete beta function.

    Worked out as the continued fraction DLMF 8.17.22, on the side on which it converges.
    """
    if x <= 0 or x >= 1:
        return 0.0 if x <= 0 else 1.0
    if x > (a + 1) / (a + b + 2):
        return 1 - beta_below(1 - x, b, a)
    log_front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    return math.exp(log_front) * _fraction(x, a, b) / a


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction 1/(1 + d1/(1 + d2/(1 + ...))), by Lentz's method."""
    ratio_c, ratio_d, below = 1.0, 0.0, 1.0
    for term in range(1, _MOST_TERMS):
        step = _coefficient(term, x, a, b)
        ratio_c = _not_zero(1 + step / ratio_c)
        ratio_d = 1 / _not_zero(1 + step * ratio_d)
        below *= ratio_c * ratio_d
        if abs(ratio_c * ratio_d - 1) < _EXACT_ENOUGH:
            break
    return 1 / below


def _coefficient(term: int, x: float, a: float, b: float) -> float:
    m = term // 2
    if term % 2 == 0:
        return m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
    return -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))


def _not_zero(value: float) -> float:
    return value if abs(value) > _NEAR_ZERO else _NEAR_ZERO
