"""The components of a study by averages and ranges: AIAG, Measurement Systems Analysis, 4th edition, chapter III.

Quick to follow with a pocket calculator; the analysis of variance, which also sees what units and people do together,
is what the verdict rests on.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rig.gauge.values import Values
from rig.statistics.ranges import range_factors


@dataclass(frozen=True, slots=True)
class RangeStudy:
    """Standard deviations by the method, and what they are worked out from.

    Attributes:
        upper_range: no range of one unit at one level should be above it; `beyond` are the cells (unit, level)
            that are.
        level_difference: largest less smallest mean of the levels.
        unit_range: largest less smallest mean of the units.

    """

    mean_range: float
    level_ranges: tuple[float, ...]
    upper_range: float
    beyond: tuple[tuple[int, int], ...]
    level_difference: float
    unit_range: float
    repeatability: float
    reproducibility: float
    unit_spread: float

    @property
    def gauge(self) -> float:
        """What the measuring adds: repeatability and reproducibility together."""
        return math.hypot(self.repeatability, self.reproducibility)

    @property
    def total(self) -> float:
        """Measuring and units together."""
        return math.hypot(self.gauge, self.unit_spread)


def by_ranges(values: Values) -> RangeStudy:
    """Work the study out by averages and ranges."""
    ranges = values.cell_ranges
    level_ranges = tuple(sum(unit[level] for unit in ranges) / values.units for level in range(values.levels))
    mean_range = sum(level_ranges) / values.levels
    # Ranges of so many cells are divided by d2 itself, as the method has it.
    factors = range_factors(values.repeats)
    repeatability = mean_range / factors.d2
    difference = max(values.level_means) - min(values.level_means)
    unit_range = max(values.unit_means) - min(values.unit_means)
    by_level = difference / range_factors(values.levels).d2_of(1)
    of_chance = repeatability**2 / (values.units * values.repeats)
    upper = factors.upper * mean_range
    return RangeStudy(
        mean_range,
        level_ranges,
        upper,
        tuple(_beyond(ranges, upper)),
        difference,
        unit_range,
        repeatability,
        math.sqrt(max(0.0, by_level**2 - of_chance)),
        unit_range / range_factors(values.units).d2_of(1),
    )


def _beyond(ranges: tuple[tuple[float, ...], ...], upper: float) -> Iterator[tuple[int, int]]:
    for unit, row in enumerate(ranges):
        for level, one in enumerate(row):
            if one > upper:
                yield unit, level
