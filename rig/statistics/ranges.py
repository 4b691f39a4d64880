"""What the range of a few normal values says of their spread: Tippett, Biometrika 17 (1925) 364-387."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from rig.statistics.numeric import integral, normal_below, root_between

# Beyond this the range of a hundred normal values has no weight left.
_WIDEST = 14.0
_DEVIATIONS = 8.0
_PANEL = 2.0


@dataclass(frozen=True, slots=True)
class RangeFactors:
    """Mean (`d2`) and standard deviation (`d3`) of the range of `count` values of spread one."""

    count: int
    d2: float
    d3: float

    def d2_of(self, groups: int) -> float:
        """Divides a mean range of a few groups: Duncan, Quality Control and Industrial Statistics (from memory).

        The square of that mean range, divided by the square of this, is the variance without bias.
        """
        return math.sqrt(self.d2**2 + self.d3**2 / groups)

    @property
    def upper(self) -> float:
        """Times the mean range: three standard deviations above it (`D4` of the trade's tables)."""
        return 1 + 3 * self.d3 / self.d2


@lru_cache(maxsize=64)
def range_factors(count: int) -> RangeFactors:
    """The factors for 2 to 100 values, by integration; raises ValueError for another count."""
    if not 2 <= count <= 100:
        raise ValueError(f"the range of {count} values; allowed: of 2 to 100")
    panels = [_PANEL * number for number in range(int(_WIDEST / _PANEL) + 1)]
    mean = integral(lambda width: 1 - _narrower(count, width), panels)
    square = integral(lambda width: 2 * width * (1 - _narrower(count, width)), panels)
    return RangeFactors(count, mean, math.sqrt(square - mean**2))


@lru_cache(maxsize=64)
def widest_range(count: int, groups: int, chance: float) -> float:
    """The largest of so many ranges of `count` values of spread one is wider than this with a chance."""

    def too_often(width: float) -> float:
        return (1 - chance) - _narrower(count, width) ** groups

    return root_between(too_often, 0.0, _WIDEST)


def _narrower(count: int, width: float) -> float:
    """Probability that the range of `count` values is less than `width`."""

    def least_at(at: float) -> float:
        density = math.exp(-at * at / 2) / math.sqrt(2 * math.pi)
        return count * density * (normal_below(at + width) - normal_below(at)) ** (count - 1)

    return integral(least_at, [-_DEVIATIONS, -4.0, 0.0, 4.0, _DEVIATIONS])
