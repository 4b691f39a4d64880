"""Check positions about a set point: what they prove, and how often they err."""

from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm

from rig.events import Verdict
from rig.statistics.edge_checks import EdgeChecks, ToleranceTooTight
from tests.reference.four_readings import judged

# Placing 0.6 mm and a unit's own spread of 0.4 mm, guarded by two standard uncertainties.
DOUBT_MM = math.hypot(0.6, 0.4)
CHECKS = EdgeChecks(5.0, DOUBT_MM, 2 * DOUBT_MM)


def guarded(doubt_mm: float, risk: float) -> EdgeChecks:
    """Guarded so that on one side no more than the risk goes wrong."""
    return EdgeChecks(5.0, doubt_mm, float(norm.isf(risk)) * doubt_mm)


checks = st.builds(guarded, st.floats(0.02, 1.4), st.floats(0.005, 0.2))


def test_positions_lie_within_and_beyond_the_limits_by_the_guard() -> None:
    guard_mm = 2 * DOUBT_MM
    assert CHECKS.inner_mm == pytest.approx((-5 + guard_mm, 5 - guard_mm), abs=1e-4)
    assert CHECKS.outer_mm == pytest.approx((-5 - guard_mm, 5 + guard_mm), abs=1e-4)


@given(checks, st.floats(-20, 20))
def test_zones(one: EdgeChecks, off_mm: float) -> None:
    verdict = judged(one, lambda position_mm: position_mm < off_mm)
    if abs(off_mm) < one.tolerance_mm - one.guard_mm - 1e-9:
        assert verdict is Verdict.GOOD
    elif abs(off_mm) > one.tolerance_mm + one.guard_mm + 1e-9:
        assert verdict is Verdict.BAD
    elif one.tolerance_mm - one.guard_mm + 1e-9 < abs(off_mm) < one.tolerance_mm + one.guard_mm - 1e-9:
        assert verdict is Verdict.UNDECIDED


@given(st.floats(0.01, 1), st.floats(0, 30), st.sampled_from((-1, 1)), st.floats(0.005, 0.2))
def test_no_unit_outside_tolerance_passes_with_more_than_the_risk(
    doubt_mm: float, beyond_mm: float, sign: int, risk: float
) -> None:
    one = guarded(doubt_mm, risk)
    assert one.outcome(sign * (5 + beyond_mm)).good <= risk * (1 + 1e-9)
    assert one.outcome(sign * max(5 - beyond_mm, 0)).bad <= risk * (1 + 1e-9)


@given(checks, st.floats(-20, 20))
def test_verdicts_are_all_there_is(one: EdgeChecks, off_mm: float) -> None:
    outcome = one.outcome(off_mm)
    assert outcome.good + outcome.bad + outcome.undecided == pytest.approx(1)
    assert min(outcome.good, outcome.bad, outcome.undecided) >= -1e-15


@pytest.mark.parametrize("off_mm", [0, 3.6, 4.4, -5, 5.5, -6.6])
def test_probabilities_are_those_of_really_reading(off_mm: float) -> None:
    chance, trials = random.Random(off_mm), 20_000

    def seen(position_mm: float) -> bool:
        stands_mm, switches_mm = chance.gauss(position_mm, 0.6), chance.gauss(off_mm, 0.4)
        return stands_mm < switches_mm

    verdicts = [judged(CHECKS, seen) for _ in range(trials)]
    outcome = CHECKS.outcome(off_mm)
    for verdict, probability in (
        (Verdict.GOOD, outcome.good),
        (Verdict.BAD, outcome.bad),
        (Verdict.UNDECIDED, outcome.undecided),
    ):
        spread = math.sqrt(max(probability * (1 - probability), 1e-4) / trials)
        assert verdicts.count(verdict) / trials == pytest.approx(probability, abs=4.5 * spread)


def test_a_tolerance_too_tight_to_prove_is_refused_with_the_least_that_is_not() -> None:
    with pytest.raises(
        ToleranceTooTight, match=r"1 mm cannot be proven; allowed: more than 1.44 mm"
    ) as refused:
        EdgeChecks(1.0, DOUBT_MM, 2 * DOUBT_MM)
    EdgeChecks(refused.value.smallest_mm + 1e-6, DOUBT_MM, 2 * DOUBT_MM)
