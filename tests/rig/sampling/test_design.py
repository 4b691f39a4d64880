"""Plans designed from two points: published answers, a plain search over everything, what cannot be had."""

from __future__ import annotations

from math import ceil, floor
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy import arange
from scipy.stats import binom, hypergeom

from rig.sampling.design import Point, plan_by_two_points, zero_acceptance_plan
from rig.sampling.plan import NoSuchPlan, SinglePlan


# The first is the answer of a published vignette, the second of another one; the rest were computed with an
# independent library.
@pytest.mark.parametrize(
    ("producer", "consumer", "plan"),
    [
        (Point(0.05, 0.05), Point(0.15, 0.075), SinglePlan(80, 7)),
        (Point(0.01, 0.02), Point(0.05, 0.15), SinglePlan(144, 4)),
        (Point(0.01, 0.05), Point(0.05, 0.10), SinglePlan(132, 3)),
        (Point(0.01, 0.05), Point(0.10, 0.10), SinglePlan(52, 2)),
        (Point(0.02, 0.05), Point(0.08, 0.10), SinglePlan(98, 4)),
    ],
)
def test_published_plans_are_found(producer: Point, consumer: Point, plan: SinglePlan) -> None:
    assert plan_by_two_points(producer, consumer) == plan


def test_risks_of_published_plans() -> None:
    plan = SinglePlan(80, 7)
    assert (plan.accepts_with(0.05), plan.accepts_with(0.15)) == pytest.approx((0.953408, 0.072717), abs=5e-7)
    plan = SinglePlan(144, 4)
    assert 1 - plan.accepts_with(0.01) == pytest.approx(0.01534843, abs=5e-9)
    assert plan.accepts_with(0.05) == pytest.approx(0.1487162, abs=5e-8)


def smallest_by_trying(
    samples: range, good: Any, poor: Any, producer: Point, consumer: Point
) -> SinglePlan | None:
    """Every sample with every acceptance number, by scipy; `good` and `poor` give the chances of a sample."""
    for sample in samples:
        most = arange(sample + 1)
        keeps = (good(most, sample) >= 1 - producer.risk - 1e-12) & (
            poor(most, sample) <= consumer.risk + 1e-12
        )
        if keeps.any():
            return SinglePlan(sample, int(keeps.argmax()))
    return None


RISKS = st.sampled_from([0.01, 0.05, 0.1, 0.2])


@settings(max_examples=20, deadline=None)
@given(st.floats(0.01, 0.4), st.floats(2, 20), RISKS, RISKS)
def test_no_smaller_sample_would_do(share: float, times: float, alpha: float, beta: float) -> None:
    assume(share * times < 0.95)
    producer, consumer = Point(share, alpha), Point(share * times, beta)
    tried = smallest_by_trying(
        range(1, 40),
        lambda most, sample: binom.cdf(most, sample, producer.share_bad),
        lambda most, sample: binom.cdf(most, sample, consumer.share_bad),
        producer,
        consumer,
    )
    found = plan_by_two_points(producer, consumer)
    assert found == tried if tried else found.sample_size >= 40


@settings(max_examples=20, deadline=None)
@given(st.integers(2, 30), st.floats(0.005, 0.6), st.floats(1.2, 20), RISKS, RISKS)
def test_no_smaller_sample_would_do_for_a_lot(
    lot_size: int, share: float, times: float, alpha: float, beta: float
) -> None:
    assume(share * times < 1)
    producer, consumer = Point(share, alpha), Point(share * times, beta)
    tried = smallest_by_trying(
        range(1, lot_size + 1),
        lambda most, sample: hypergeom.cdf(most, lot_size, floor(share * lot_size), sample),
        lambda most, sample: hypergeom.cdf(most, lot_size, ceil(share * times * lot_size), sample),
        producer,
        consumer,
    )
    assert plan_by_two_points(producer, consumer, lot_size) == tried


def test_a_risk_that_is_just_kept_is_kept() -> None:
    # Both of 2 bad among 15 are in a sample of 7 in 21 of 105 cases: a risk of exactly 0.2.
    assert plan_by_two_points(Point(0.15, 0.2), Point(0.31, 0.2), 15) == SinglePlan(7, 1)
    # 2 bad of 5, or 3: a sample of 3 holds at most one of the 2 in 7 of 10 cases, of the 3 in 3 of 10.
    assert plan_by_two_points(Point(0.5, 0.3), Point(0.56, 0.3), 5) == SinglePlan(3, 1)


def test_a_share_that_means_a_whole_number_of_units_is_that_number() -> None:
    # 0.07 * 100 is a little above 7 in floating point; 8 bad units would need a smaller sample.
    assert zero_acceptance_plan(Point(0.07, 0.05), 100) == SinglePlan(34, 0)
    assert hypergeom.cdf(0, 100, 7, 34) <= 0.05 < hypergeom.cdf(0, 100, 7, 33)


# 1 - 0.95^59 > 95 %: the trade's rule of 59; 299 for 1 %. Both are printed widely; computed here too.
def test_zero_acceptance() -> None:
    assert zero_acceptance_plan(Point(0.05, 0.05)) == SinglePlan(59, 0)
    assert zero_acceptance_plan(Point(0.01, 0.05)) == SinglePlan(299, 0)
    assert zero_acceptance_plan(Point(0.05, 0.05), 100) == SinglePlan(45, 0)
    assert zero_acceptance_plan(Point(0.05, 0.05), 12) == SinglePlan(12, 0)


@pytest.mark.parametrize(
    ("producer", "consumer", "said"),
    [
        ((0.05, 0.05), (0.05, 0.1), "not below the consumer's"),
        ((0.05, 0.6), (0.15, 0.5), "add up to 1 or more"),
        ((0.001, 0.01), (0.00101, 0.01), "no sample of up to 20000 keeps both risks"),
    ],
)
def test_what_cannot_be_had_is_refused(
    producer: tuple[float, float], consumer: tuple[float, float], said: str
) -> None:
    with pytest.raises(NoSuchPlan, match=said):
        plan_by_two_points(Point(*producer), Point(*consumer))


@pytest.mark.parametrize("point", [(0.0, 0.05), (1.0, 0.05), (0.05, 0.0), (0.05, 1.0), (float("nan"), 0.1)])
def test_a_point_lies_between_nothing_and_everything(point: tuple[float, float]) -> None:
    with pytest.raises(NoSuchPlan, match="both between 0 and 1"):
        Point(*point)
