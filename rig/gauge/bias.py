"""Bias and linearity: what is shown less what is true, over the distance; pure.

AIAG, Measurement Systems Analysis, 4th edition, chapter III B: a line through the single deviations; where its 95 %
band leaves zero out, the scale is off there.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from rig.gauge.intervals import COVERAGE, Interval
from rig.statistics.line import Line, fit_line
from rig.statistics.uncertainty import coverage_factor


@dataclass(frozen=True)
class Bias:
    """Deviations from reference distances, in mm, and the line through them."""

    true_mm: tuple[float, ...]
    deviations_mm: tuple[float, ...]

    @cached_property
    def line(self) -> Line:
        """Deviation over true distance; raises ValueError for fewer than three places."""
        return fit_line(self.true_mm, self.deviations_mm)

    @property
    def mean_mm(self) -> float:
        """Of all deviations."""
        return sum(self.deviations_mm) / len(self.deviations_mm)

    @property
    def by_place(self) -> tuple[tuple[float, float], ...]:
        """Each true distance with the mean of its deviations."""
        places = sorted(set(self.true_mm))
        return tuple((place, _mean_at(place, self)) for place in places)

    @property
    def slope(self) -> Interval:
        """Interval of the slope: without zero in it the scale is not linear to the reference, as far as chance goes."""
        half = self._factor * self.line.u_slope
        return Interval(self.line.slope - half, self.line.slope + half)

    def at(self, distance_mm: float) -> Interval:
        """Interval of the bias at a distance."""
        half_mm = self._factor * self.line.u_at(distance_mm)
        return Interval(self.line.at(distance_mm) - half_mm, self.line.at(distance_mm) + half_mm)

    @cached_property
    def _factor(self) -> float:
        return coverage_factor(COVERAGE, self.line.degrees_of_freedom)


def _mean_at(place: float, bias: Bias) -> float:
    there = [one for at, one in zip(bias.true_mm, bias.deviations_mm, strict=True) if at == place]
    return sum(there) / len(there)
