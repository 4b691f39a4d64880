"""Charts of single values: the values themselves, their moving ranges, and their exponentially weighted mean.

NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2 (individuals and moving range) and 6.3.2.4 (EWMA).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from statistics import fmean

from rig.control.constants import D2, D4, freedom_of_ranges
from rig.control.rules import CAREFUL, EXPLAINED, LIMIT, LONGEST, spoken
from rig.statistics.uncertainty import student_t_quantile
from wiring.check_unit import RunRule

RANGE_RULE = "range-beyond-limit"
EWMA_RULE = "ewma-beyond-limits"
UNCERTAINTY_RULE = "beyond-uncertainty"
BASELINE = 20
"""So many undisturbed values make limits that may be relied on. Common practice, no source: 20 to 30."""

OTHERS: dict[str, tuple[str, str]] = {
    RANGE_RULE: (
        "a moving range beyond its limit",
        "a jump from one value to the next: a slip, a knock, another person, another lot",
    ),
    EWMA_RULE: (
        "the exponentially weighted mean beyond its limits",
        "a small drift that lasts: wear, a scale that creeps, the room warming up",
    ),
    UNCERTAINTY_RULE: (
        "further from the reference value than both uncertainties allow (E number above 1, ISO 13528)",
        "the rig or the check unit is not what it was when the reference value was taken",
    ),
}
"""What speaks beside the run rules: what it looks for, and what is often behind it."""

# Student's quantile at the probability that three standard deviations leave outside on each side.
_BELOW_LIMIT = 0.5 * (1 + math.erf(LIMIT / math.sqrt(2)))


@dataclass(frozen=True, slots=True)
class Watching:
    """How values are watched.

    Attributes:
        rules: run rules.
        weight: of the newest value in the exponentially weighted mean; None: there is none.
        ranges: whether a moving range beyond its limit is a signal. One in 109 is beyond it by chance, three times as
            many as values beyond theirs, and whatever jumps shows in the values as well: for what stops work, look
            at the ranges and leave them out.
        width: how many of its own standard deviations the limits of that mean lie from the centre line. 0.2 with 2.962
            gives a false alarm in 500 points on average (J. M. Lucas and M. S. Saccucci, Technometrics 32 (1990) 1-12;
            from memory, and worked out in the tests).

    """

    rules: tuple[RunRule, ...] = CAREFUL
    weight: float | None = 0.2
    width: float = 2.962
    ranges: bool = False


@dataclass(frozen=True, slots=True)
class Baseline:
    """What a process does when nothing disturbs it: its centre, and its spread from the mean moving range."""

    centre: float
    mean_range: float
    count: int

    @classmethod
    def of(cls, values: Sequence[float]) -> Baseline:
        """That of values in the order in which they came; raises ValueError for fewer than two."""
        if len(values) < 2:
            raise ValueError(f"a baseline needs two values or more (given {len(values)})")
        return cls(fmean(values), fmean(moving_ranges(values)), len(values))

    @property
    def sigma(self) -> float:
        """Standard deviation from one value to the next."""
        return self.mean_range / D2

    @property
    def range_limit(self) -> float:
        """Upper limit of a moving range."""
        return D4 * self.mean_range

    def limits(self) -> tuple[float, float]:
        """Control limits, three standard deviations to either side."""
        return self.centre - LIMIT * self.sigma, self.centre + LIMIT * self.sigma

    def limits_of_next(self) -> tuple[float, float]:
        """Limits for the next value while few are known: as rare a false alarm, from so few values.

        A prediction interval: Student's quantile with the degrees of freedom that the ranges are worth.
        """
        half = _factor_of_next(self.count) * self.sigma
        return self.centre - half, self.centre + half

    def deviations(self, values: Sequence[float]) -> list[float]:
        """Values in standard deviations from the centre line; all on it where there is no spread at all."""
        sigma = self.sigma
        if sigma == 0.0:
            return [math.copysign(math.inf, one) if (one := value - self.centre) else 0.0 for value in values]
        return [(value - self.centre) / sigma for value in values]


@lru_cache
def _factor_of_next(count: int) -> float:
    return student_t_quantile(_BELOW_LIMIT, freedom_of_ranges(count - 1)) * math.sqrt(1 + 1 / count)


@dataclass(frozen=True, slots=True)
class Signal:
    """Something that a process does not do by itself.

    Attributes:
        rule: its name; `EXPLAINED` and `OTHERS` say what it looks for.
        at: index of the value at which it speaks.
        length: how many values up to there make it speak.

    """

    rule: str
    at: int
    length: int = 1

    @property
    def looks_for(self) -> str:
        """What the rule looks for, in words."""
        return looks_for(self.rule)

    @property
    def often(self) -> str:
        """What is often behind it."""
        return OTHERS[self.rule][1] if self.rule in OTHERS else EXPLAINED[RunRule(self.rule)].often


def looks_for(rule: str) -> str:
    """What a rule looks for, in words."""
    return OTHERS[rule][0] if rule in OTHERS else EXPLAINED[RunRule(rule)].looks_for


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Values with their limits and signals.

    Attributes:
        limits: of each value; None where there were none yet.
        ranges: from the value before; None for the first, and where counting begins anew.
        smoothed: exponentially weighted mean after each value, with its limits; None where it is not kept.
        baseline: what the limits are worked out from; None while there are too few values.
        fixed: whether the limits stay as they are.
        restarts: indices at which rules, ranges and mean begin anew.

    """

    values: tuple[float, ...]
    limits: tuple[tuple[float, float] | None, ...]
    ranges: tuple[float | None, ...]
    smoothed: tuple[tuple[float, float, float] | None, ...]
    signals: tuple[Signal, ...]
    baseline: Baseline | None
    fixed: bool
    restarts: tuple[int, ...] = ()

    @property
    def in_control(self) -> bool:
        """Whether nothing speaks against it."""
        return not self.signals

    @property
    def is_short(self) -> bool:
        """Whether the limits rest on too few values to say that it is in control."""
        return self.baseline is None or self.baseline.count < BASELINE

    def signals_at(self, index: int) -> tuple[Signal, ...]:
        """What speaks at one value."""
        return tuple(one for one in self.signals if one.at == index)


def moving_ranges(values: Sequence[float]) -> list[float]:
    """From each value to the next, without sign."""
    return [abs(after - before) for before, after in pairwise(values)]


def chart_of(
    values: Sequence[float],
    watching: Watching,
    baseline: Baseline | None = None,
    *,
    begin: int = 0,
    restarts: Collection[int] = (),
) -> ControlChart:
    """Chart values against a baseline, else against their own: what they all did is then taken for undisturbed.

    Args:
        values: in the order in which they came.
        watching: rules, and the weighted mean.
        baseline: from values known to be undisturbed.
        begin: values before this index are shown and not watched.
        restarts: indices at which somebody has looked, and what came before counts no more.

    """
    base = baseline or (Baseline.of(values) if len(values) > 1 else None)
    count = len(values)
    if base is None:
        empty = (None,) * count
        return ControlChart(tuple(values), empty, empty, empty, (), None, fixed=False)
    starts = sorted({begin, *(index for index in restarts if begin < index < count)})
    ranges: list[float | None] = [None] * count
    smoothed: list[tuple[float, float, float] | None] = [None] * count
    signals: list[Signal] = []
    for start, end in pairwise((*starts, count)):
        part = values[start:end]
        ranges[start + 1 : end] = moving_ranges(part)
        smoothed[start:end] = list(_smoothed(part, base, watching))
        signals += _signals(part, ranges[start:end], smoothed[start:end], base, watching, start)
    limits = (None,) * begin + (base.limits(),) * (count - begin)
    return ControlChart(
        tuple(values),
        limits,
        tuple(ranges),
        tuple(smoothed),
        tuple(signals),
        base,
        fixed=True,
        restarts=tuple(starts[1:]),
    )


def _smoothed(
    values: Sequence[float], base: Baseline, watching: Watching
) -> Iterator[tuple[float, float, float] | None]:
    """The weighted mean from the centre line on, with limits that widen as it forgets where it began."""
    weight = watching.weight
    if weight is None:
        yield from (None for _ in values)
        return
    mean = base.centre
    for number, value in enumerate(values, start=1):
        mean = weight * value + (1 - weight) * mean
        share = weight / (2 - weight) * (1 - (1 - weight) ** (2 * number))
        half = watching.width * base.sigma * math.sqrt(share)
        yield mean, base.centre - half, base.centre + half


def _signals(
    values: Sequence[float],
    ranges: Sequence[float | None],
    smoothed: Sequence[tuple[float, float, float] | None],
    base: Baseline,
    watching: Watching,
    start: int,
) -> Iterator[Signal]:
    points = base.deviations(values)
    for index in range(len(values)):
        for rule, length in spoken(points[max(0, index + 1 - LONGEST) : index + 1], watching.rules):
            yield Signal(rule, start + index, length)
        moved, mean = ranges[index], smoothed[index]
        if watching.ranges and moved is not None and moved > base.range_limit:
            yield Signal(RANGE_RULE, start + index, 2)
        if mean is not None and not mean[1] <= mean[0] <= mean[2]:
            yield Signal(EWMA_RULE, start + index, index + 1)
