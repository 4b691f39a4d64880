"""All figures of a study that has all its values, worked out once; what is shown of it is taken from here. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from statistics import median

from rig.gauge.anova import Anova, analyse
from rig.gauge.bias import Bias
from rig.gauge.components import SIX, Component, Part, categories, components_of, share_of_spread
from rig.gauge.course import Course
from rig.gauge.design import Design, Factor
from rig.gauge.intervals import COVERAGE, Interval
from rig.gauge.ranges import RangeStudy, by_ranges
from rig.gauge.values import Values
from rig.statistics.ranges import widest_range

COVERAGE_FACTOR = 2.0
"""Stated expanded uncertainties are for 95 %: about two standard uncertainties."""

_PART_WORDS = {
    Part.REPEATABILITY: "repeatability",
    Part.LEVEL: "difference between {levels}",
    Part.INTERACTION: "{levels} and units together",
    Part.REPRODUCIBILITY: "reproducibility",
    Part.GAUGE: "measuring as a whole",
    Part.UNIT: "units themselves",
    Part.TOTAL: "all together",
}


@dataclass(frozen=True, slots=True)
class Scale:
    """The target's scale against reference distances, by the calibration in force.

    Attributes:
        bias: of the scale as it was found.
        corrected: whether the target is sent by it, so that this bias is out of the values.
        left_mm: expanded uncertainty (95 %) of a distance at the studied edge, once corrected.
        day: when it was made; `reference` with what.

    """

    bias: Bias
    corrected: bool
    left_mm: float
    day: str
    reference: str


@dataclass(frozen=True)
class Figures:
    """What a study comes to in figures."""

    design: Design
    values: Values
    claimed_mm: float
    scale: Scale | None

    @cached_property
    def anova(self) -> Anova:
        """The analysis of variance, on which the verdict rests."""
        return analyse(self.values)

    @cached_property
    def components(self) -> dict[Part, Component]:
        """Its components."""
        return components_of(self.anova)

    @cached_property
    def ranges(self) -> RangeStudy:
        """The same by averages and ranges."""
        return by_ranges(self.values)

    @cached_property
    def share_of_spread(self) -> Interval:
        """Between which the gauge's share of the whole spread lies."""
        return share_of_spread(self.anova)

    @property
    def tolerance_mm(self) -> float:
        """From limit to limit."""
        return self.design.tolerance_mm

    @property
    def levels(self) -> int:
        """How many people or settings."""
        return self.values.levels

    @property
    def factor(self) -> Factor:
        """What they are."""
        return self.design.factor

    @property
    def level_words(self) -> str:
        """What they are called, several of them."""
        return "people" if self.factor is Factor.PERSON else "settings"

    def part_words(self, part: Part) -> str:
        """What a part is called."""
        return _PART_WORDS[part].format(levels=self.level_words)

    def deviation(self, part: Part) -> float:
        """Standard deviation of a part, in mm."""
        return self.components[part].deviation

    def share_of_tolerance(self, part: Part) -> float:
        """Six standard deviations of a part over the width of the tolerance."""
        return SIX * self.deviation(part) / self.tolerance_mm

    @property
    def shares_of_tolerance(self) -> Interval:
        """Between which the gauge's share of the tolerance lies."""
        between = self.components[Part.GAUGE].deviations
        assert between is not None, "the gauge has an interval"
        return Interval(SIX * between.low / self.tolerance_mm, SIX * between.high / self.tolerance_mm)

    def share_of_whole(self, part: Part) -> float:
        """Standard deviation of a part over that of all together; 0 where nothing scatters."""
        whole = self.deviation(Part.TOTAL)
        return self.deviation(part) / whole if whole else 0.0

    def share_of_gauge(self, part: Part) -> float:
        """Variance of a part over that of the gauge; 0 where the gauge adds nothing."""
        whole = self.components[Part.GAUGE].variance
        return self.components[part].variance / whole if whole else 0.0

    @property
    def classes(self) -> int | None:
        """How many classes of units are told apart, rounded down; None: endlessly many."""
        told = categories(self.deviation(Part.UNIT), self.deviation(Part.GAUGE))
        return None if math.isinf(told) else math.floor(told)

    @property
    def repeatability_mm(self) -> Interval:
        """Between which the standard deviation of repeats lies."""
        between = self.components[Part.REPEATABILITY].deviations
        assert between is not None, "repeats have an interval"
        return between

    @property
    def upper_range_mm(self) -> float:
        """No range of one unit by one level should be above it."""
        return self.ranges.upper_range

    @property
    def beyond(self) -> tuple[tuple[str, str], ...]:
        """Unit and level of each range that is."""
        return tuple(
            (self.design.units[unit], self.design.levels[level]) for unit, level in self.ranges.beyond
        )

    @cached_property
    def surely_beyond(self) -> tuple[tuple[str, str], ...]:
        """Those that are wider than chance would have any of so many be in one of twenty studies, the widest first."""
        values, ranges = self.values, self.values.cell_ranges
        widest = widest_range(values.repeats, values.units * values.levels, 1 - COVERAGE)
        cells = sorted(self.ranges.beyond, key=lambda cell: -ranges[cell[0]][cell[1]])
        return tuple(
            (self.design.units[unit], self.design.levels[level])
            for unit, level in cells
            if ranges[unit][level] > widest * self.ranges.repeatability
        )

    @property
    def farthest_level(self) -> tuple[str, float]:
        """The level whose mean lies farthest off the mean of all, and by how much, in mm."""
        off_mm = [mean - self.values.mean for mean in self.values.level_means]
        level = max(range(self.levels), key=lambda one: abs(off_mm[one]))
        return self.design.levels[level], off_mm[level]

    @property
    def oddest_unit(self) -> str:
        """The unit on which the levels agree least, their own means apart."""
        worst = max(range(self.values.units), key=self._disagreement)
        return self.design.units[worst]

    def _disagreement(self, unit: int) -> float:
        own = self.values.cell_means[unit]
        off = [cell - level for cell, level in zip(own, self.values.level_means, strict=True)]
        return max(off) - min(off)

    @property
    def at_mm(self) -> float:
        """Mean of all values: about where the edge lies."""
        return self.values.mean

    @property
    def bias_words(self) -> Iterator[str]:
        """What is known of bias and linearity, in sentences."""
        scale = self.scale
        if scale is None:
            yield "Nothing is known of bias: the rig was never calibrated (teachrig calibrate)."
            return
        between, slope = scale.bias.at(self.at_mm), scale.bias.slope
        line = scale.bias.line
        yield (
            f"Bias: against {scale.reference} on {scale.day} the scale showed {line.at(self.at_mm):+.3f} mm too much "
            "at "
            f"{self.at_mm:.0f} mm (95 %: {between.low:+.3f} to {between.high:+.3f}), which "
            f"{'is' if 0.0 in between else 'is not'} within chance."
        )
        yield (
            f"Linearity: that changes by {1000 * line.slope:+.3f} mm for each metre "
            f"(95 %: {1000 * slope.low:+.3f} to {1000 * slope.high:+.3f})."
        )
        yield (
            f"The target is corrected by that; a distance there is right within {scale.left_mm:.3f} mm (95 %)."
            if scale.corrected
            else "Nothing is corrected by it: that bias is in every value."
        )


def figures_of(course: Course, scale: Scale | None) -> Figures | None:
    """The figures of a study; None while a value is missing."""
    values = course.values
    if values is None:
        return None
    claimed_mm = median(one.expanded_mm for one in course.readings.values()) / COVERAGE_FACTOR
    return Figures(course.design, values, claimed_mm, scale)
