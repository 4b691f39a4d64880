"""What the scatter of a study is made of, each part with its confidence interval and its share."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

from rig.gauge.anova import Anova
from rig.gauge.intervals import Interval, Term, generalised, of_variance

if TYPE_CHECKING:
    from rig.gauge.intervals import Array

SIX = 6.0
"""A spread is stated as six standard deviations wide, which holds 99.7 % of normal values (common practice)."""
CATEGORIES = 1.41
"""Square root of two as AIAG, Measurement Systems Analysis, 4th edition, rounds it."""


class Part(StrEnum):
    """Where scatter comes from."""

    REPEATABILITY = "repeatability"
    LEVEL = "level"
    INTERACTION = "interaction"
    REPRODUCIBILITY = "reproducibility"
    GAUGE = "gauge"
    UNIT = "unit"
    TOTAL = "total"


@dataclass(frozen=True, slots=True)
class Component:
    """One part of the scatter.

    Attributes:
        variance: as estimated, zero where it came out below.
        raw: as it came out.
        interval: of its variance, 95 %; None of the total, which is no question of the study.

    """

    part: Part
    variance: float
    raw: float
    interval: Interval | None

    @property
    def deviation(self) -> float:
        """Standard deviation."""
        return math.sqrt(self.variance)

    @property
    def deviations(self) -> Interval | None:
        """Interval of the standard deviation."""
        if self.interval is None:
            return None
        return Interval(math.sqrt(self.interval.low), math.sqrt(self.interval.high))


def components_of(anova: Anova) -> dict[Part, Component]:
    """Every part of the scatter."""
    raw = anova.raw
    own = {part: raw[part] for part in (Part.REPEATABILITY, Part.LEVEL, Part.INTERACTION, Part.UNIT)}
    kept = {part: max(0.0, value) for part, value in own.items()}
    raw_of = {
        **own,
        Part.REPRODUCIBILITY: kept[Part.LEVEL] + kept[Part.INTERACTION],
        Part.GAUGE: kept[Part.LEVEL] + kept[Part.INTERACTION] + kept[Part.REPEATABILITY],
    }
    raw_of[Part.TOTAL] = raw_of[Part.GAUGE] + kept[Part.UNIT]
    terms = {part: tuple(_terms(anova, part)) for part in Part}
    return {
        part: Component(
            part,
            max(0.0, raw_of[part]),
            raw_of[part],
            of_variance(terms[part]) if terms[part] else None,
        )
        for part in Part
    }


def _terms(anova: Anova, part: Part) -> Iterator[Term]:
    """The weighted mean squares that a part's variance is the sum of; those that cancel out are left away."""
    units, levels, repeats = anova.shape
    against, error = anova.against, anova.error
    match part:
        case Part.REPEATABILITY:
            yield Term(1.0, error)
        case Part.LEVEL:
            yield Term(1 / (units * repeats), anova.levels)
            yield Term(-1 / (units * repeats), against)
        case Part.INTERACTION if not anova.pooled:
            yield Term(1 / repeats, anova.interaction)
            yield Term(-1 / repeats, error)
        case Part.REPRODUCIBILITY:
            yield from _reproducibility(anova)
        case Part.GAUGE:
            yield from _gauge(anova)
        case Part.UNIT:
            yield Term(1 / (levels * repeats), anova.units)
            yield Term(-1 / (levels * repeats), against)


def _reproducibility(anova: Anova) -> Iterator[Term]:
    units, _, repeats = anova.shape
    yield Term(1 / (units * repeats), anova.levels)
    if anova.pooled:
        yield Term(-1 / (units * repeats), anova.error)
    else:
        yield Term((units - 1) / (units * repeats), anova.interaction)
        yield Term(-1 / repeats, anova.error)


def _gauge(anova: Anova) -> Iterator[Term]:
    units, _, repeats = anova.shape
    yield Term(1 / (units * repeats), anova.levels)
    if anova.pooled:
        yield Term(1 - 1 / (units * repeats), anova.error)
    else:
        yield Term((units - 1) / (units * repeats), anova.interaction)
        yield Term(1 - 1 / repeats, anova.error)


def share_of_spread(anova: Anova) -> Interval:
    """Interval of the gauge's standard deviation over that of gauge and units together."""
    import numpy as np

    rows = [anova.units, anova.levels, anova.error]
    if not anova.pooled:
        rows.append(anova.interaction)

    def share(true: Sequence[Array]) -> Array:
        of_units, of_levels, error = true[:3]
        against = error if anova.pooled else true[3]
        units, levels, repeats = anova.shape
        level = np.maximum(0.0, of_levels - against) / (units * repeats)
        both = 0.0 * error if anova.pooled else np.maximum(0.0, against - error) / repeats
        gauge = error + level + both
        unit = np.maximum(0.0, of_units - against) / (levels * repeats)
        whole: Array = np.sqrt(gauge / (gauge + unit))
        return whole

    return generalised(rows, share)


def categories(unit_deviation: float, gauge_deviation: float) -> float:
    """How many classes of units the measuring tells apart; endless where it adds nothing."""
    return math.inf if gauge_deviation == 0 else CATEGORIES * unit_deviation / gauge_deviation
