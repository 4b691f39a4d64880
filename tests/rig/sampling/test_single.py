"""What single plans achieve: published answers, and scipy over grids."""

from __future__ import annotations

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, hypergeom

from rig.sampling.counting import chance_of, lot_chance_of
from rig.sampling.curve import outgoing_limit, point_at, share_at
from rig.sampling.plan import Decision, NoSuchPlan, OneLot, SinglePlan, whole_lot

# NIST/SEMATECH e-Handbook 6.2.3.2, plan (52, 3), lots of 10,000: share of bad units 1 to 14 %.
# The page prints .845 and .739 for 4 and 5 %; the last places of both are wrong, hence the width.
NIST = SinglePlan(52, 3)
NIST_PRINTED = (0.998, 0.980, 0.930, 0.845, 0.739, 0.620, 0.502, 0.394, 0.300, 0.223, 0.162, 0.115)
# The same computed with an independent library, to more figures.
EXACT = (
    0.9982,
    0.9798,
    0.9295,
    0.8460,
    0.7383,
    0.6196,
    0.5018,
    0.3938,
    0.3003,
    0.2232,
    0.1621,
    0.1152,
    0.0803,
)
OUTGOING = (0.00993, 0.01949, 0.02774, 0.03366, 0.03672, 0.03698, 0.03495, 0.03134, 0.02688, 0.02220, 0.01773)
INSPECTED = (70.37, 253.30, 752.96, 1584.10, 2655.22, 3836.28, 5007.62, 6082.85, 7012.82, 7779.73, 8387.77)


def test_the_curves_are_those_of_the_handbook() -> None:
    for percent, printed in enumerate(NIST_PRINTED, start=1):
        assert NIST.accepts_with(percent / 100) == pytest.approx(printed, abs=1.1e-3)
    for percent, exact in enumerate(EXACT, start=1):
        assert NIST.accepts_with(percent / 100) == pytest.approx(exact, abs=1e-4)
    for percent, (outgoing, inspected) in enumerate(zip(OUTGOING, INSPECTED, strict=True), start=1):
        point = point_at(NIST, 10_000, percent / 100)
        assert point.outgoing == pytest.approx(outgoing, abs=6e-6)
        assert point.inspected == pytest.approx(inspected, abs=0.006)


def test_the_worst_outgoing_quality_is_the_published_one() -> None:
    worst = outgoing_limit(NIST, 10_000)
    assert (worst.share_bad, worst.outgoing) == pytest.approx((0.05591, 0.037190), abs=1e-5)
    # (52, 2) on lots of 5,000, printed as 1.420 % at 1.5 % and 2.603 % at 4.3 %.
    other = SinglePlan(52, 2)
    assert point_at(other, 5000, 0.015).outgoing == pytest.approx(0.01420, abs=5e-6)
    worst = outgoing_limit(other, 5000)
    assert (worst.share_bad, worst.outgoing) == pytest.approx((0.0429976, 0.0260302), abs=1e-6)


# Lot, bad in it, plan, chance of acceptance; computed with an independent library, the last by hand.
@pytest.mark.parametrize(
    ("lot_size", "bad", "plan", "chance"),
    [
        (50, 5, SinglePlan(8, 0), 0.4014933),
        (50, 2, SinglePlan(8, 0), 0.7028571),
        (100, 5, SinglePlan(20, 1), 0.7394534),
        (1000, 20, SinglePlan(80, 2), 0.7892471),
        (20, 1, SinglePlan(5, 0), 0.75),
    ],
)
def test_lots_of_a_known_number_of_bad_units(
    lot_size: int, bad: int, plan: SinglePlan, chance: float
) -> None:
    assert plan.accepts_lot(bad, lot_size) == pytest.approx(chance, abs=6e-8)


@given(st.integers(1, 20_000), st.floats(0, 1), st.just(0.0) | st.floats(1e-9, 1))
def test_chances_of_a_process_agree_with_scipy(sample_size: int, part: float, share: float) -> None:
    most = round(part * sample_size)
    plan = SinglePlan(sample_size, most)
    assert plan.accepts_with(share) == pytest.approx(float(binom.cdf(most, sample_size, share)), abs=1e-10)
    near = round(share * sample_size)
    assert chance_of(near, sample_size, share) == pytest.approx(
        float(binom.pmf(near, sample_size, share)), rel=1e-7
    )


@given(st.integers(1, 100_000), st.floats(0, 1), st.floats(0, 1), st.floats(-4, 4))
def test_chances_of_a_lot_agree_with_scipy(lot_size: int, bad_part: float, part: float, off: float) -> None:
    bad, sample = round(bad_part * lot_size), max(1, round(part * lot_size))
    share = bad / lot_size
    most = round(sample * share + off * (sqrt(sample * share * (1 - share)) + 0.5))
    most = min(max(0, most), sample)
    cdf, pmf = (float(of(most, lot_size, bad, sample)) for of in (hypergeom.cdf, hypergeom.pmf))
    assert SinglePlan(sample, most).accepts_lot(bad, lot_size) == pytest.approx(cdf, abs=1e-8)
    assert lot_chance_of(most, sample, bad, lot_size) == pytest.approx(pmf, abs=1e-8)


# Limiting quality (accepted one time in ten) in percent, computed with an independent library.
@pytest.mark.parametrize(
    ("plan", "percent"),
    [
        (SinglePlan(80, 2), 6.516),
        (SinglePlan(125, 3), 5.266),
        (SinglePlan(50, 1), 7.558),
        (SinglePlan(32, 1), 11.620),
        (SinglePlan(20, 1), 18.096),
    ],
)
def test_limiting_quality(plan: SinglePlan, percent: float) -> None:
    assert share_at(plan, 0.10) * 100 == pytest.approx(percent, abs=5e-4)


def test_a_lot_that_is_decided_is_known_before_the_sample_is_whole() -> None:
    plan = SinglePlan(10, 2)
    assert plan.decided_early(tested=3, bad=3) is Decision.REJECTED
    assert plan.decided_early(tested=7, bad=0) is None
    assert plan.decided_early(tested=8, bad=0) is Decision.ACCEPTED
    assert plan.decided_early(tested=9, bad=1) is Decision.ACCEPTED
    assert plan.decided_early(tested=9, bad=2) is None
    assert plan.decided_early(tested=10, bad=2) is plan.decide(2) is Decision.ACCEPTED
    assert plan.decide(3) is Decision.REJECTED


def test_testing_everything_proves_what_is_in_the_lot() -> None:
    assert whole_lot(7).accepts_lot(0, 7) == 1.0
    assert whole_lot(7).accepts_lot(1, 7) == 0.0
    assert point_at(whole_lot(7), 7, 0.1).outgoing == 0.0
    assert point_at(whole_lot(7), 7, 0.1).inspected == 7


@pytest.mark.parametrize("lot_size", [7, 40, 333])
def test_a_share_of_one_lot_is_a_number_of_units(lot_size: int) -> None:
    plan = SinglePlan(lot_size // 3, 1)
    lot = OneLot(plan, lot_size)
    for bad in range(lot_size + 1):
        assert lot.accepts_with(bad / lot_size) == plan.accepts_lot(bad, lot_size)


def test_no_plan_without_a_sample() -> None:
    with pytest.raises(NoSuchPlan, match="sample of 0"):
        SinglePlan(0, 0)
    with pytest.raises(NoSuchPlan, match="at most -1 bad"):
        SinglePlan(5, -1)
