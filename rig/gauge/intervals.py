"""Confidence intervals of what is worked out from mean squares.

Sums and differences of them by the modified large-sample method: Graybill and Wang, JASA 75 (1980) 869-873, for sums;
Ting, Burdick, Graybill, Jeyaratnam and Lu, J. Statist. Comput. Simul. 35 (1990) 135-143, where one is taken away; as
Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies (SIAM 2005) use them (formulas from memory).
Anything else by generalised intervals: Hamada and Weaver, J. Quality Technology 32 (2000) (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from rig.gauge.anova import Row

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

COVERAGE = 0.95
_POINTS = 8191


@dataclass(frozen=True, slots=True)
class Interval:
    """Between these the true value lies with the coverage that is stated."""

    low: float
    high: float

    def __contains__(self, value: float) -> bool:
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True)
class Term:
    """A mean square times `weight`, which is below zero where it is taken away."""

    weight: float
    row: Row

    @property
    def size(self) -> float:
        """Without its sign."""
        return abs(self.weight) * self.row.mean


def of_variance(terms: Sequence[Term]) -> Interval:
    """Interval of a variance that is a weighted sum of mean squares; nothing below zero is told."""
    doubt = (1 - COVERAGE) / 2
    value = math.fsum(term.weight * term.row.mean for term in terms)
    plus = [term for term in terms if term.weight > 0]
    minus = [term for term in terms if term.weight < 0]
    down = math.fsum(_down(plus, minus, doubt))
    up = math.fsum(_up(plus, minus, doubt))
    low = value - math.sqrt(max(0.0, down))
    return Interval(max(0.0, low), max(0.0, value + math.sqrt(max(0.0, up))))


def _down(plus: Sequence[Term], minus: Sequence[Term], doubt: float) -> Iterator[float]:
    yield from ((_g(one.row.freedom, doubt) * one.size) ** 2 for one in plus)
    yield from ((_h(one.row.freedom, doubt) * one.size) ** 2 for one in minus)
    for one in plus:
        for other in minus:
            n, m = one.row.freedom, other.row.freedom
            f = _f_quantile(1 - doubt, n, m)
            both = ((f - 1) ** 2 - (_g(n, doubt) * f) ** 2 - _h(m, doubt) ** 2) / f
            yield both * one.size * other.size
    if minus:
        for one, other in combinations(plus, 2):
            n, m = one.row.freedom, other.row.freedom
            whole = _g(n + m, doubt) ** 2 * (n + m) ** 2 / (n * m)
            both = whole - _g(n, doubt) ** 2 * n / m - _g(m, doubt) ** 2 * m / n
            yield both / (len(plus) - 1) * one.size * other.size


def _up(plus: Sequence[Term], minus: Sequence[Term], doubt: float) -> Iterator[float]:
    yield from ((_h(one.row.freedom, doubt) * one.size) ** 2 for one in plus)
    yield from ((_g(one.row.freedom, doubt) * one.size) ** 2 for one in minus)
    for one in plus:
        for other in minus:
            n, m = one.row.freedom, other.row.freedom
            f = _f_quantile(doubt, n, m)
            both = ((1 - f) ** 2 - (_h(n, doubt) * f) ** 2 - _g(m, doubt) ** 2) / f
            yield both * one.size * other.size


def _g(freedom: int, doubt: float) -> float:
    return 1 - freedom / _chi2_above(doubt, freedom)


def _h(freedom: int, doubt: float) -> float:
    return freedom / _chi2_above(1 - doubt, freedom) - 1


def _chi2_above(probability: float, freedom: int) -> float:
    from scipy.special import chdtri

    return float(chdtri(freedom, probability))


def _f_quantile(probability: float, freedom: int, against: int) -> float:
    from scipy.special import fdtri

    return float(fdtri(freedom, against, probability))


def generalised(rows: Sequence[Row], worked_out: Callable[[Sequence[Array]], Array]) -> Interval:
    """Interval of whatever is worked out from mean squares.

    Each is replaced by what it may truly be, its sum of squares over a chi-square value; the values are those of an
    even lattice (an additive recurrence) instead of drawn ones, so the same record always gives the same interval.
    """
    import numpy as np
    from scipy.special import chdtri

    numbers = np.arange(1, _POINTS + 1, dtype=np.float64)
    step = _golden(len(rows))
    true = [
        row.squares / chdtri(row.freedom, (0.5 + numbers * step ** -(index + 1)) % 1.0)
        for index, row in enumerate(rows)
    ]
    doubt = (1 - COVERAGE) / 2
    low, high = np.quantile(worked_out(true), [doubt, 1 - doubt])
    return Interval(float(low), float(high))


def _golden(dimensions: int) -> float:
    """The root of x^(d+1) = x + 1: its powers spread points over a cube as the golden section does over a line."""
    root = 1.5
    for _ in range(64):
        root = (1 + root) ** (1 / (dimensions + 1))
    return root
