"""Check positions about a set point: what they prove, and how often they err."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.events import Verdict
from rig.statistics.conformity import Process
from rig.statistics.edge_checks import DetectedSide, EdgeChecks, ToleranceTooTight, place_edge_checks

FAR_EDGE = place_edge_checks(420, 5, placement_mm=0.6, spread_mm=0.4, side=DetectedSide.NEARER)
NEAR_EDGE = place_edge_checks(180, 5, placement_mm=0.6, spread_mm=0.4, side=DetectedSide.FARTHER)

checks = st.builds(
    place_edge_checks,
    st.floats(100, 800),
    st.just(5.0),
    placement_mm=st.floats(0.01, 1),
    spread_mm=st.floats(0.01, 1),
    side=st.sampled_from(DetectedSide),
    risk=st.floats(0.005, 0.2),
)


def answers(one: EdgeChecks, switching_mm: float) -> Verdict:
    """Verdict on a unit without spread, targets standing exactly."""

    def seen(position_mm: float) -> bool:
        return (position_mm < switching_mm) is (one.side is DetectedSide.NEARER)

    return one.judge(
        [seen(reading.position_mm) for reading in one.inner],
        [seen(reading.position_mm) for reading in one.outer],
    )


def test_positions_of_the_far_edge() -> None:
    guard_mm = 2 * math.hypot(0.6, 0.4)
    assert [reading.position_mm for reading in FAR_EDGE.inner] == pytest.approx(
        [415 + guard_mm, 425 - guard_mm], abs=1e-4
    )
    assert [reading.position_mm for reading in FAR_EDGE.outer] == pytest.approx(
        [415 - guard_mm, 425 + guard_mm], abs=1e-4
    )
    assert [reading.detected for reading in FAR_EDGE.inner + FAR_EDGE.outer] == [True, False, True, False]
    assert [reading.detected for reading in NEAR_EDGE.inner + NEAR_EDGE.outer] == [False, True, False, True]


@given(checks, st.floats(-20, 20))
def test_zones(one: EdgeChecks, offset_mm: float) -> None:
    verdict = answers(one, one.set_point_mm + offset_mm)
    if abs(offset_mm) < one.tolerance_mm - one.guard_mm - 1e-9:
        assert verdict is Verdict.GOOD
    elif abs(offset_mm) > one.tolerance_mm + one.guard_mm + 1e-9:
        assert verdict is Verdict.BAD
    elif one.tolerance_mm - one.guard_mm + 1e-9 < abs(offset_mm) < one.tolerance_mm + one.guard_mm - 1e-9:
        assert verdict is Verdict.UNDECIDED


@given(checks, st.floats(0, 30), st.sampled_from((-1, 1)), st.floats(0.005, 0.2))
def test_no_unit_outside_tolerance_passes_with_more_than_the_risk(
    one: EdgeChecks, beyond_mm: float, sign: int, risk: float
) -> None:
    one = place_edge_checks(
        one.set_point_mm, 5, placement_mm=one.doubt_mm, spread_mm=0, side=one.side, risk=risk
    )
    outside = one.outcome(one.set_point_mm + sign * (5 + beyond_mm))
    assert outside.good <= risk * (1 + 1e-9)
    inside = one.outcome(one.set_point_mm + sign * max(5 - beyond_mm, 0))
    assert inside.bad <= risk * (1 + 1e-9)


@given(checks, st.floats(-20, 20))
def test_verdicts_are_all_there_is(one: EdgeChecks, offset_mm: float) -> None:
    outcome = one.outcome(one.set_point_mm + offset_mm)
    assert outcome.good + outcome.bad + outcome.undecided == pytest.approx(1)
    assert min(outcome.good, outcome.bad, outcome.undecided) >= -1e-15


@pytest.mark.parametrize("checks", [FAR_EDGE, NEAR_EDGE])
@pytest.mark.parametrize("offset_mm", [0, 3.6, 4.4, -5, 5.5, -6.6])
def test_probabilities_are_those_of_really_reading(checks: EdgeChecks, offset_mm: float) -> None:
    chance, trials = random.Random(offset_mm), 20_000
    switching_mm = checks.set_point_mm + offset_mm

    def seen(position_mm: float) -> bool:
        stands_mm, switches_mm = chance.gauss(position_mm, 0.6), chance.gauss(switching_mm, 0.4)
        return (stands_mm < switches_mm) is (checks.side is DetectedSide.NEARER)

    verdicts = [
        checks.judge([seen(r.position_mm) for r in checks.inner], [seen(r.position_mm) for r in checks.outer])
        for _ in range(trials)
    ]
    outcome = checks.outcome(switching_mm)
    for verdict, probability in (
        (Verdict.GOOD, outcome.good),
        (Verdict.BAD, outcome.bad),
        (Verdict.UNDECIDED, outcome.undecided),
    ):
        spread = math.sqrt(max(probability * (1 - probability), 1e-4) / trials)
        assert verdicts.count(verdict) / trials == pytest.approx(probability, abs=4.5 * spread)


def test_shares_over_a_lot_are_those_of_a_drawn_lot() -> None:
    chance, units = random.Random(7), 20_000
    risks = FAR_EDGE.risks(Process.normal(420.5, 2.5))
    drawn = [chance.gauss(420.5, 2.5) for _ in range(units)]
    outcomes = [(abs(mm - 420) <= 5, FAR_EDGE.outcome(mm)) for mm in drawn]
    assert risks.passed_outside == pytest.approx(
        sum(o.good for inside, o in outcomes if not inside) / units, abs=2e-4
    )
    assert risks.failed_inside == pytest.approx(
        sum(o.bad for inside, o in outcomes if inside) / units, abs=2e-4
    )
    assert risks.undecided == pytest.approx(sum(o.undecided for _, o in outcomes) / units, abs=0.01)


def test_an_outer_position_need_not_be_read_where_the_inner_one_is_right() -> None:
    assert FAR_EDGE.judge([True, False]) is Verdict.GOOD
    assert FAR_EDGE.judge([True, False], [False, True]) is Verdict.GOOD


@pytest.mark.parametrize(
    ("inner", "outer", "verdict"),
    [
        ([None, False], [None, None], Verdict.UNDECIDED),  # not read: never good
        ([True, None], [True, False], Verdict.UNDECIDED),
        ([True, True], [None, None], Verdict.UNDECIDED),  # wrong inside, not read beyond
        ([True, True], [None, False], Verdict.UNDECIDED),  # too near to tell
        ([True, True], [None, True], Verdict.BAD),
        ([False, False], [False, None], Verdict.BAD),
    ],
)
def test_judging(inner: list[bool | None], outer: list[bool | None], verdict: Verdict) -> None:
    assert FAR_EDGE.judge(inner, outer) is verdict


def test_a_tolerance_too_tight_to_prove_is_refused_with_the_least_that_is_not() -> None:
    with pytest.raises(
        ToleranceTooTight, match=r"1 mm cannot be proven; allowed: more than 1.44 mm"
    ) as refused:
        place_edge_checks(420, 1, placement_mm=0.6, spread_mm=0.4, side=DetectedSide.NEARER)
    place_edge_checks(
        420, refused.value.smallest_mm + 1e-6, placement_mm=0.6, spread_mm=0.4, side=DetectedSide.NEARER
    )


@pytest.mark.parametrize("risk", [0, 0.5, math.nan])
def test_a_risk_that_is_none_is_refused(risk: float) -> None:
    with pytest.raises(ValueError, match=r"risk is .*; allowed"):
        place_edge_checks(420, 5, placement_mm=0.6, spread_mm=0.4, side=DetectedSide.NEARER, risk=risk)


def test_perfect_placing_is_not_believed() -> None:
    with pytest.raises(ValueError, match="allowed: more than 0"):
        place_edge_checks(420, 5, placement_mm=0, spread_mm=0, side=DetectedSide.NEARER)
