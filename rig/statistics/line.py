"""A straight line through measured pairs by least squares, with its uncertainty: JCGM 100:2008 (GUM), annex H.3."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

FEWEST = 3


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope * x, with standard uncertainties and covariance from the scatter about it.

    Attributes:
        scatter: standard deviation of the residuals, with `count` - 2 degrees of freedom.
        residuals: measured less fitted, pair by pair.

    """

    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    covariance: float
    scatter: float
    residuals: tuple[float, ...]

    @property
    def degrees_of_freedom(self) -> int:
        """How many pairs there are beyond the two that a line needs."""
        return len(self.residuals) - 2

    def at(self, x: float) -> float:
        """The line at `x`."""
        return self.intercept + self.slope * x

    def u_at(self, x: float) -> float:
        """Standard uncertainty of the line at `x`: GUM H.3.4, formula (H.15) with the covariance."""
        return sqrt(max(0.0, self.u_intercept**2 + (x * self.u_slope) ** 2 + 2 * x * self.covariance))


def fit_line(x: Sequence[float], y: Sequence[float]) -> Line:
    """Fit by least squares with equal weights: GUM H.3.2, formulas (H.13).

    Raises ValueError for fewer than three pairs, or all at one place.
    """
    if len(x) != len(y) or len(x) < FEWEST:
        raise ValueError(f"a line needs {FEWEST} pairs or more (given {len(x)} and {len(y)})")
    count = len(x)
    mean_x, mean_y = sum(x) / count, sum(y) / count
    spread = sum((one - mean_x) ** 2 for one in x)
    if spread == 0.0:
        raise ValueError("all pairs stand at one place")
    slope = sum((one - mean_x) * (other - mean_y) for one, other in zip(x, y, strict=True)) / spread
    intercept = mean_y - slope * mean_x
    residuals = tuple(other - (intercept + slope * one) for one, other in zip(x, y, strict=True))
    variance = sum(one**2 for one in residuals) / (count - 2)
    u_slope = sqrt(variance / spread)
    u_intercept = sqrt(variance * (1 / count + mean_x**2 / spread))
    covariance = -mean_x * variance / spread
    return Line(intercept, slope, u_intercept, u_slope, covariance, sqrt(variance), residuals)
