"""Plans designed from what they have to achieve: the smallest sample that keeps both risks, by exact search."""

from __future__ import annotations

import math
from dataclasses import dataclass

from rig.sampling.counting import chance_of, lot_chance_of
from rig.sampling.plan import NoSuchPlan, SinglePlan

LARGEST_SAMPLE = 20_000
# Small lots have risks that are plain fractions: one that is just kept must not be lost to rounding.
_JUST_KEPT = 1e-12


@dataclass(frozen=True, slots=True)
class Point:
    """A share of bad units and the risk that goes with it, both between 0 and 1.

    For the producer the risk is that a lot this good is rejected, for the consumer that a lot this bad is accepted.
    Raises NoSuchPlan for a share or risk outside of 0 to 1.
    """

    share_bad: float
    risk: float

    def __post_init__(self) -> None:
        if not (0 < self.share_bad < 1 and 0 < self.risk < 1):
            raise NoSuchPlan(
                f"a share of {self.share_bad:g} with a risk of {self.risk:g} is no point of a plan; "
                "allowed: both between 0 and 1"
            )


def plan_by_two_points(producer: Point, consumer: Point, lot_size: int | None = None) -> SinglePlan:
    """The plan with the smallest sample that keeps both risks; of those, the one with the least acceptance number.

    Without a lot size the lots come out of a process (binomial). With one the shares are those of the lot itself
    (hypergeometric): the whole number of bad units that is not more than the producer's share, and not less than the
    consumer's. Testing the whole lot keeps every risk, so that there is always a plan for a lot.

    Raises NoSuchPlan where the producer's share is not below the consumer's, where the risks leave nothing to decide,
    or where the sample would be above `LARGEST_SAMPLE`.
    """
    check_order(producer, consumer)
    good, poor = (_Chance(point.share_bad, None, 0) for point in (producer, consumer))
    most = LARGEST_SAMPLE
    if lot_size is not None:
        good = _Chance(0.0, lot_size, math.floor(_exact(producer.share_bad * lot_size)))
        poor = _Chance(0.0, lot_size, math.ceil(_exact(consumer.share_bad * lot_size)))
        most = min(most, lot_size)
    acceptance_number = 0
    while True:
        while poor.accepted > consumer.risk + _JUST_KEPT:
            if poor.sample_size == most:
                raise NoSuchPlan(
                    f"no sample of up to {most} keeps both risks; allowed: shares or risks further apart"
                )
            poor.one_more_unit()
        good.up_to(poor.sample_size)
        if good.accepted >= 1 - producer.risk - _JUST_KEPT:
            return SinglePlan(poor.sample_size, acceptance_number)
        acceptance_number += 1
        good.one_more_bad()
        poor.one_more_bad()


def zero_acceptance_plan(consumer: Point, lot_size: int | None = None) -> SinglePlan:
    """The smallest sample that, free of bad units, leaves no more than the consumer's risk.

    Raises NoSuchPlan where it would be above `LARGEST_SAMPLE`.
    """
    chance = _Chance(consumer.share_bad, None, 0)
    if lot_size is not None:
        chance = _Chance(0.0, lot_size, math.ceil(_exact(consumer.share_bad * lot_size)))
    while chance.accepted > consumer.risk + _JUST_KEPT:
        if chance.sample_size == LARGEST_SAMPLE:
            raise NoSuchPlan(
                f"no sample of up to {LARGEST_SAMPLE} keeps the risk; allowed: a larger share or risk"
            )
        chance.one_more_unit()
    return SinglePlan(max(chance.sample_size, 1))


def check_order(producer: Point, consumer: Point) -> None:
    """Raise NoSuchPlan unless a plan could tell the two points apart."""
    if not producer.share_bad < consumer.share_bad:
        raise NoSuchPlan(
            f"the producer's share of bad units ({producer.share_bad:g}) is not below the consumer's "
            f"({consumer.share_bad:g}); allowed: a smaller one"
        )
    if not producer.risk + consumer.risk < 1:
        raise NoSuchPlan(
            f"risks of {producer.risk:g} and {consumer.risk:g} add up to 1 or more; allowed: together less than 1"
        )


def _exact(units: float) -> float:
    """A product that means a whole number, without what floating point adds to it: 0.07 * 100 is 7."""
    return round(units) if math.isclose(units, round(units), rel_tol=1e-12) else units


class _Chance:
    """Probability of acceptance along a search that only ever grows sample and acceptance number, step by step."""

    def __init__(self, share_bad: float, lot_size: int | None, bad: int) -> None:
        self._share, self._lot, self._bad = share_bad, lot_size, bad
        self.sample_size, self._most = 0, 0
        self.accepted = self._here = 1.0

    def one_more_unit(self) -> None:
        """A larger sample: what had exactly the acceptance number, and a bad one now, is no longer accepted."""
        good = self.sample_size - self._most
        if self._lot is None:
            next_bad, next_good = self._share, 1 - self._share
        else:
            left = self._lot - self.sample_size
            next_bad = (self._bad - self._most) / left
            next_good = (self._lot - self._bad - good) / left
        self.accepted -= self._here * next_bad
        self._here *= next_good * (self.sample_size + 1) / (good + 1)
        self.sample_size += 1

    def up_to(self, sample_size: int) -> None:
        """The same, many times."""
        while self.sample_size < sample_size:
            self.one_more_unit()

    def one_more_bad(self) -> None:
        """A larger acceptance number: what has exactly that many is accepted too."""
        self._most += 1
        if self._lot is None:
            self._here = chance_of(self._most, self.sample_size, self._share)
        else:
            self._here = lot_chance_of(self._most, self.sample_size, self._bad, self._lot)
        self.accepted += self._here
