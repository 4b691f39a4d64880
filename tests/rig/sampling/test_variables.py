"""Plans by variables: published answers, scipy's noncentral t, simulated lots with one limit and with two."""

from __future__ import annotations

from math import isnan
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import nct, norm

from rig.sampling.design import Point
from rig.sampling.noncentral import noncentral_t_below
from rig.sampling.plan import Decision, NoSuchPlan
from rig.sampling.variables import VariablesPlan, variables_plan
from rig.statistics.conformity import Interval

PRODUCER, CONSUMER = Point(0.05, 0.05), Point(0.15, 0.075)


# The answer of a published vignette to these two points.
@pytest.mark.parametrize(("known", "size", "k"), [(False, 49, 1.326538), (True, 26, 1.322271)])
def test_the_published_plan_is_found(known: bool, size: int, k: float) -> None:
    plan = variables_plan(PRODUCER, CONSUMER, known_spread=known)
    assert plan.sample_size == size
    # The vignette's root of the noncentral t is printed to six figures, and found to five.
    assert plan.k == pytest.approx(k, abs=5e-6)


@settings(max_examples=12)
@given(
    st.floats(0.001, 0.2), st.floats(2, 10), st.sampled_from([0.01, 0.05, 0.1]), st.sampled_from([0.05, 0.1])
)
def test_both_risks_are_kept_and_one_unit_less_would_not_keep_them(
    share: float, times: float, alpha: float, beta: float
) -> None:
    producer, consumer = Point(share, alpha), Point(min(share * times, 0.6), beta)
    for known in (False, True):
        plan = variables_plan(producer, consumer, known_spread=known)
        assert plan.accepts_with(producer.share_bad) == pytest.approx(1 - alpha, abs=1e-9)
        assert plan.accepts_with(consumer.share_bad) <= beta
        if plan.sample_size == 3:
            continue
        away = -NormalDist().inv_cdf(share)
        size, root = plan.sample_size - 1, (plan.sample_size - 1) ** 0.5
        edge = (
            nct.ppf(alpha, size - 1, away * root) if not known else away * root + NormalDist().inv_cdf(alpha)
        )
        assert VariablesPlan(size, edge / root, known).accepts_with(consumer.share_bad) > beta


@given(st.integers(3, 400), st.floats(-4, 10), st.floats(-4, 6))
def test_the_noncentral_t_agrees_with_scipy(size: int, k: float, away: float) -> None:
    root = size**0.5
    expected = float(nct.cdf(k * root, size - 1, away * root))
    if isnan(expected):
        # scipy knows no answer far out on either side.
        expected = float(away < k)
    assert noncentral_t_below(k * root, size - 1, away * root) == pytest.approx(expected, abs=1e-8)


def lots(size: int, share: float, part_below: float) -> tuple[np.ndarray, Interval]:
    """800 samples of a standard normal process, and limits beyond which its share lies, so much of it below."""
    lower = NormalDist().inv_cdf(share * part_below) if part_below else -np.inf
    upper = -NormalDist().inv_cdf(share * (1 - part_below))
    return np.random.default_rng(3951).standard_normal((800, size)), Interval(float(lower), upper)


@pytest.mark.parametrize("part_below", [0.0, 0.1, 0.5])
@pytest.mark.parametrize("share", [0.05, 0.15])
def test_simulated_lots_are_accepted_as_often_as_worked_out(share: float, part_below: float) -> None:
    plan = variables_plan(PRODUCER, CONSUMER)
    values, limits = lots(plan.sample_size, share, part_below)
    accepted = (
        sum(plan.judge(sample, limits).decision is Decision.ACCEPTED for sample in values.tolist()) / 800
    )
    assert accepted == pytest.approx(plan.accepts_with(share), abs=0.03)


@pytest.mark.parametrize("part_below", [0.0, 0.1, 0.5])
def test_with_a_known_spread_no_risk_is_larger_than_asked_for(part_below: float) -> None:
    plan = variables_plan(PRODUCER, CONSUMER, known_spread=True)
    for point, passes in ((PRODUCER, True), (CONSUMER, False)):
        values, limits = lots(plan.sample_size, point.share_bad, part_below)
        wrong = sum(
            (plan.judge(sample, limits, 1.0).decision is Decision.ACCEPTED) is not passes
            for sample in values.tolist()
        )
        assert wrong / 800 <= point.risk + 0.02


@given(
    st.lists(st.floats(-5, 5), min_size=8, max_size=8).filter(lambda v: max(v) - min(v) > 0.1),
    st.floats(-9, 9),
)
def test_with_one_limit_the_estimated_share_and_k_decide_alike(values: list[float], limit: float) -> None:
    plan = VariablesPlan(8, 1.5)
    found = plan.judge(values, Interval(lower=limit))
    if abs((found.mean - limit) / found.spread - plan.k) > 1e-6:
        far = (found.mean - limit) / found.spread > plan.k
        assert found.decision is (Decision.ACCEPTED if far else Decision.REJECTED)
    assert found.above == 0
    mirrored = plan.judge([-value for value in values], Interval(upper=-limit))
    assert mirrored.above == pytest.approx(found.below)


@pytest.mark.parametrize("size", [3, 5, 20])
@pytest.mark.parametrize("share", [0.02, 0.2])
def test_the_estimated_share_is_right_on_average(size: int, share: float) -> None:
    """Over all samples: the mean of a standard normal sample and its spread, by scipy's distributions of them."""
    away, root = -NormalDist().inv_cdf(share), size**0.5

    def estimated(q: float, *, known: bool) -> float:
        # A plan with this k accepts what is estimated so high or less.
        return VariablesPlan(size, q, known).largest_share

    by_sample, _ = quad(
        lambda t: estimated(t / root, known=False) * nct.pdf(t, size - 1, away * root), -60, 60, limit=300
    )
    # Within (size - 1) / sqrt(size) of the limit every share is between 0 and 1.
    assert by_sample == pytest.approx(share, abs=2e-3)
    by_process, _ = quad(lambda q: estimated(q, known=True) * norm.pdf(q, away, 1 / root), -8, 12)
    assert by_process == pytest.approx(share, abs=1e-8)


def test_values_that_are_all_alike_are_judged_by_where_they_lie() -> None:
    plan = VariablesPlan(3, 1.0)
    inside = plan.judge([1.0, 1.0, 1.0], Interval(0.0, 2.0))
    assert (inside.decision, inside.share_bad) == (Decision.ACCEPTED, 0.0)
    outside = plan.judge([3.0, 3.0, 3.0], Interval(0.0, 2.0))
    assert (outside.decision, outside.share_bad) == (Decision.REJECTED, 1.0)


def test_known_or_not_the_spread_is_where_the_plan_takes_it_from() -> None:
    limits = Interval(0.0, 2.0)
    with pytest.raises(ValueError, match="allowed: a known spread above 0"):
        VariablesPlan(3, 1.0, known_spread=True).judge([1.0, 1.1, 0.9], limits)
    with pytest.raises(ValueError, match="taken from the sample"):
        VariablesPlan(3, 1.0).judge([1.0, 1.1, 0.9], limits, 0.1)
    with pytest.raises(ValueError, match="2 values; allowed: 3 finite"):
        VariablesPlan(3, 1.0).judge([1.0, 1.1], limits)
    with pytest.raises(ValueError, match="allowed: 3 finite"):
        VariablesPlan(3, 1.0).judge([1.0, 1.1, float("nan")], limits)
    with pytest.raises(ValueError, match="no limit"):
        VariablesPlan(3, 1.0).judge([1.0, 1.1, 1.2], Interval())
    with pytest.raises(NoSuchPlan, match="3 units or more"):
        VariablesPlan(2, 1.0)
    with pytest.raises(NoSuchPlan, match="no sample of up to 20000"):
        variables_plan(Point(0.01, 0.001), Point(0.0101, 0.001))
