"""Single sampling by variables: a lot is judged by the measured values of a set point instead of by counting.

Fewer units are needed than by counting, at a price: the values must be spread normally, and the lot out of one process.
With one limit it is accepted if the mean keeps k standard deviations away from it. With two limits the shares beyond
each are estimated and added up, and accepted if the sum is no more than what k stands for; with one limit that is the
same (Lieberman and Resnikoff, Journal of the American Statistical Association 50 (1955) 457-516, and the two-sided
method of ISO 3951-2; both from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist, fmean, stdev

from rig.sampling.design import LARGEST_SAMPLE, Point, check_order
from rig.sampling.noncentral import noncentral_t_below
from rig.sampling.plan import Decision, NoSuchPlan
from rig.statistics.binomial import beta_below
from rig.statistics.conformity import Interval
from rig.statistics.numeric import normal_below, root_between

FEWEST = 3


@dataclass(frozen=True, slots=True)
class VariablesPlan:
    """Measure `sample_size` units; the mean has to keep `k` standard deviations from the limit.

    `known_spread`: the standard deviation of the process is known beforehand, not taken from the sample. Raises
    NoSuchPlan for fewer than 3 units.
    """

    sample_size: int
    k: float
    known_spread: bool = False

    def __post_init__(self) -> None:
        if self.sample_size < FEWEST:
            raise NoSuchPlan(
                f"{self.sample_size} measured values show no spread; allowed: {FEWEST} units or more"
            )

    @property
    def largest_share(self) -> float:
        """The largest estimated share beyond the limits with which a lot is accepted."""
        return self._estimated(self.k)

    def accepts_with(self, share_bad: float) -> float:
        """Probability of acceptance where this share lies beyond one limit.

        It is exact for one limit. Where the share lies beyond two, it is within 0.03 if the spread is taken from the
        sample. If the spread is known it tells the share beyond two limits by itself, and both risks only get smaller.
        """
        if share_bad <= 0 or share_bad >= 1:
            return float(share_bad <= 0)
        root = math.sqrt(self.sample_size)
        away = -NormalDist().inv_cdf(share_bad)
        if self.known_spread:
            return normal_below(root * (away - self.k))
        return 1 - noncentral_t_below(self.k * root, self.sample_size - 1, away * root)

    def tested_on_average(self, share_bad: float) -> float:  # noqa: ARG002  # the same whatever the share
        """All of the sample, whatever the share."""
        return float(self.sample_size)

    tested_if_accepted = tested_on_average

    def judge(self, values: Sequence[float], limits: Interval, spread: float | None = None) -> MeasuredLot:
        """Decision on measured values, in the unit of the limits.

        Raises ValueError for another number of values than the sample, one that is no finite number, no limit at all,
        or a spread that is missing where the plan needs it, or not above 0.
        """
        self._check(values, limits, spread)
        mean = fmean(values)
        seen = stdev(values) if spread is None else spread
        below, above = (self._share_beyond(away, seen) for away in (mean - limits.lower, limits.upper - mean))
        decision = Decision.ACCEPTED if below + above <= self.largest_share else Decision.REJECTED
        return MeasuredLot(decision, mean, seen, below, above)

    def _check(self, values: Sequence[float], limits: Interval, spread: float | None) -> None:
        if len(values) != self.sample_size or not all(map(math.isfinite, values)):
            raise ValueError(
                f"{len(values)} values; allowed: {self.sample_size} finite numbers, the whole sample"
            )
        if math.isinf(limits.lower) and math.isinf(limits.upper):
            raise ValueError("no limit is given; allowed: one or two")
        if self.known_spread != (spread is not None) or (spread is not None and not spread > 0):
            wanted = (
                "a known spread above 0" if self.known_spread else "no spread: it is taken from the sample"
            )
            raise ValueError(f"spread is {spread}; allowed: {wanted}")

    def _share_beyond(self, away: float, spread: float) -> float:
        if math.isinf(away):
            return 0.0
        return self._estimated(away / spread) if spread > 0 else float(away < 0)

    def _estimated(self, away: float) -> float:
        """The share beyond a limit that is so many standard deviations away, right on average."""
        n = self.sample_size
        if self.known_spread:
            return normal_below(-away * math.sqrt(n / (n - 1)))
        return beta_below(0.5 - away * math.sqrt(n) / (2 * (n - 1)), n / 2 - 1, n / 2 - 1)


@dataclass(frozen=True, slots=True)
class MeasuredLot:
    """A lot judged by values.

    Attributes:
        spread: standard deviation, of the sample or known beforehand.
        below: estimated share of the lot below the lower limit.
        above: the same above the upper one.

    """

    decision: Decision
    mean: float
    spread: float
    below: float
    above: float

    @property
    def share_bad(self) -> float:
        """Estimated share of the lot beyond its limits."""
        return self.below + self.above


def variables_plan(producer: Point, consumer: Point, *, known_spread: bool = False) -> VariablesPlan:
    """The smallest sample that keeps both risks, with the largest k that keeps the producer's.

    Raises NoSuchPlan where the points cannot be told apart, or only with more than `LARGEST_SAMPLE` values.
    """
    check_order(producer, consumer)
    good, poor = (-NormalDist().inv_cdf(point.share_bad) for point in (producer, consumer))
    sure, safe = (-NormalDist().inv_cdf(point.risk) for point in (producer, consumer))
    known = ((sure + safe) / (good - poor)) ** 2
    k = (poor * sure + good * safe) / (sure + safe)
    # With the spread out of the sample about so many are needed (from memory); then one by one.
    near = known if known_spread else known * (1 + k * k / 2)
    if near > LARGEST_SAMPLE:
        raise NoSuchPlan(
            f"no sample of up to {LARGEST_SAMPLE} keeps both risks; allowed: shares or risks further apart"
        )
    size = max(FEWEST, math.ceil(near))

    def plan_of(sample_size: int) -> VariablesPlan:
        return VariablesPlan(
            sample_size, _largest_k(sample_size, producer, known_spread=known_spread), known_spread
        )

    def keeps(sample_size: int) -> bool:
        return plan_of(sample_size).accepts_with(consumer.share_bad) <= consumer.risk

    return plan_of(_first_that(keeps, size))


def _first_that(keeps: Callable[[int], bool], near: int) -> int:
    """The first size that keeps what every larger one keeps too, looked for from one that is near."""
    step = 1
    if keeps(near):
        low, high = near - 1, near
        while low >= FEWEST and keeps(low):
            step *= 2
            low, high = low - step, low
    else:
        low, high = near, near + 1
        while not keeps(high):
            step *= 2
            low, high = high, high + step
    low = max(low, FEWEST - 1)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if keeps(middle) else (middle, high)
    return high


def _largest_k(sample_size: int, producer: Point, *, known_spread: bool) -> float:
    root = math.sqrt(sample_size)
    away = -NormalDist().inv_cdf(producer.share_bad)
    if known_spread:
        return away + NormalDist().inv_cdf(producer.risk) / root
    freedom = sample_size - 1

    def excess(k: float) -> float:
        return noncentral_t_below(k * root, freedom, away * root) - producer.risk

    return root_between(excess, away - 40, away + 40)
