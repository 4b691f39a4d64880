"""Sequential plans: Wald's lines as published, every order of units gone through, bounds and estimates that hold."""

from __future__ import annotations

from itertools import product
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rig.sampling.design import Point, plan_by_two_points
from rig.sampling.plan import Decision, NoSuchPlan
from rig.sampling.sequential import SequentialPlan, ends_of
from rig.sampling.sequential_design import lines, sequential_plan

SMALL = SequentialPlan(slope=0.2, accept_below=0.8, reject_above=1.1, last=11)


# NIST/SEMATECH e-Handbook 6.2.6 prints these lines for 1 %/0.05 and 10 %/0.10 (from memory).
def test_the_lines_are_the_published_ones() -> None:
    slope, accept, reject = lines(Point(0.01, 0.05), Point(0.10, 0.10))
    assert (slope, accept, reject) == pytest.approx((0.0397, 0.939, 1.205), abs=6e-5 + 5e-4)
    plan = SequentialPlan(slope, accept, reject, 100)
    # As in its table: no acceptance before 24 units, rejection with 2 bad of 2.
    assert [plan.acceptance_number(tested) for tested in (1, 23, 24, 48, 49)] == [None, None, 0, 0, 1]
    assert [plan.rejection_number(tested) for tested in (1, 2, 19, 21)] == [None, 2, 2, 3]


def walked(plan: SequentialPlan, order: tuple[bool, ...]) -> tuple[int, int, Decision]:
    bad = 0
    for tested, is_bad in enumerate(order, start=1):
        bad += is_bad
        decision = plan.decided_early(tested, bad)
        if decision is not None:
            return tested, bad, decision
    raise AssertionError("the last unit must decide")


@pytest.mark.parametrize("share", [0.0, 0.05, 0.2, 0.6, 1.0])
def test_every_order_of_units_ends_as_often_as_worked_out(share: float) -> None:
    accepted = tested_all = tested_accepted = 0.0
    for order in product((False, True), repeat=SMALL.last):
        bad = sum(order)
        chance = share**bad * (1 - share) ** (SMALL.last - bad)
        tested, _, decision = walked(SMALL, order)
        tested_all += chance * tested
        if decision is Decision.ACCEPTED:
            accepted += chance
            tested_accepted += chance * tested
    assert SMALL.accepts_with(share) == pytest.approx(accepted, abs=1e-12)
    assert SMALL.tested_on_average(share) == pytest.approx(tested_all)
    if accepted:
        assert SMALL.tested_if_accepted(share) == pytest.approx(tested_accepted / accepted)


PLANS = st.builds(
    SequentialPlan, st.floats(0.02, 0.6), st.floats(0.3, 3), st.floats(0.3, 3), st.integers(1, 40)
)
SHARES = st.floats(0.001, 0.999)


@settings(max_examples=30)
@given(PLANS, SHARES)
def test_what_is_said_after_the_end_is_right_on_average_and_covers(
    plan: SequentialPlan, share: float
) -> None:
    ends = ends_of(plan)
    chances = [end.chance(share) for end in ends]
    assert sum(chances) == pytest.approx(1)
    average = sum(
        chance * plan.estimate(end.tested, end.bad) for end, chance in zip(ends, chances, strict=True)
    )
    assert average == pytest.approx(share)
    covered = sum(
        chance
        for end, chance in zip(ends, chances, strict=True)
        if chance > 1e-6 and share in plan.bounds(end.tested, end.bad, 0.9)
    )
    assert covered >= 0.9 - 1e-4


@settings(max_examples=20)
@given(PLANS, st.integers(1, 40), st.floats(0, 1))
def test_bounds_of_a_lot_cover_what_is_in_it(plan: SequentialPlan, lot_size: int, part: float) -> None:
    plan, bad = plan.for_lot(lot_size), round(part * lot_size)
    chances = [(end, end.lot_chance(bad, lot_size)) for end in ends_of(plan)]
    assert sum(chance for _, chance in chances) == pytest.approx(1)
    covered = sum(
        chance
        for end, chance in chances
        if chance and bad in plan.lot_bounds(end.tested, end.bad, lot_size, 0.9)
    )
    assert covered >= 0.9 - 1e-9


@settings(max_examples=25)
@given(
    st.floats(0.01, 0.2), st.floats(2.5, 10), st.sampled_from([0.01, 0.05, 0.1]), st.sampled_from([0.05, 0.1])
)
def test_both_risks_are_kept_and_fewer_units_are_tested(
    share: float, times: float, alpha: float, beta: float
) -> None:
    producer, consumer = Point(share, alpha), Point(min(share * times, 0.9), beta)
    plan, single = sequential_plan(producer, consumer), plan_by_two_points(producer, consumer)
    assert plan.accepts_with(producer.share_bad) >= 1 - alpha
    assert plan.accepts_with(consumer.share_bad) <= beta
    if single.sample_size > 10:
        assert plan.tested_on_average(producer.share_bad) < single.sample_size
        assert plan.tested_on_average(consumer.share_bad) < single.sample_size


def test_where_wald_s_own_lines_would_exceed_a_risk_others_are_drawn() -> None:
    producer, consumer = Point(0.02, 0.01), Point(0.08, 0.10)
    plan = sequential_plan(producer, consumer)
    last = ceil(1.5 * plan_by_two_points(producer, consumer).sample_size)
    by_wald = SequentialPlan(*lines(producer, consumer), last)
    assert 1 - by_wald.accepts_with(0.02) > 0.011
    assert 1 - plan.accepts_with(0.02) <= 0.01
    assert plan.accepts_with(0.08) <= 0.10


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(NoSuchPlan, match="slope between 0 and 1"):
        SequentialPlan(1.2, 1, 1, 10)
    with pytest.raises(NoSuchPlan, match="no plan of up to 2000 units"):
        sequential_plan(Point(0.003, 0.05), Point(0.006, 0.1))
    with pytest.raises(ValueError, match="does not end with 0 bad of 1"):
        SMALL.estimate(1, 0)
    with pytest.raises(ValueError, match="coverage is 0"):
        SMALL.bounds(4, 0, 0.0)
