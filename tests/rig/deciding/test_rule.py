"""Verdicts against published rules and risks, and what must hold of any rule."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.deciding.requirement import Figure, Requirement
from rig.deciding.rule import (
    DecisionRule,
    Judged,
    judge,
    judge_reading,
    standard_of,
    unit_verdict,
    worst_of,
)
from rig.edges.edge import Edge, Measured
from rig.events import Verdict
from rig.statistics.uncertainty import Component, combine
from sequences.words import Rule

SIMPLE, GUARDED = DecisionRule(Rule.SIMPLE), DecisionRule(Rule.GUARDED)
RULES = [SIMPLE, GUARDED, DecisionRule(Rule.RISK, 0.05), DecisionRule(Rule.RISK, 0.001)]
GOOD, BAD, UNDECIDED = Verdict.GOOD, Verdict.BAD, Verdict.UNDECIDED
_K2 = 0.9545


def value(at: float, u: float, coverage: float = _K2) -> Measured:
    return Measured(at, combine([Component("all of it", u)], coverage=coverage))


def between(low: float | None, high: float | None) -> Requirement:
    return Requirement(Figure.OPERATE, Edge.OUTER, low, high)


# -- published --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("at", "verdict"),
    [
        (300, GOOD),
        (292.01, GOOD),
        (307.99, GOOD),
        (291.99, UNDECIDED),
        (308.01, UNDECIDED),
        (288.01, UNDECIDED),
        (311.99, UNDECIDED),
        (287.99, BAD),
        (312.01, BAD),
    ],
)
def test_iso_14253_1_example(at: float, verdict: Verdict) -> None:
    # 290 to 310 with U = 2: accept 292 to 308, reject below 288 and above 312 (ISO 14253-1, from memory).
    judged = judge(between(290, 310), value(at, 1.0), GUARDED)
    assert judged.verdict is verdict
    assert judged.acceptance is not None
    assert judged.rejection is not None
    assert (judged.acceptance.lower, judged.acceptance.upper) == pytest.approx((292, 308), abs=0.001)
    assert (judged.rejection.lower, judged.rejection.upper) == pytest.approx((288, 312), abs=0.001)


@pytest.mark.parametrize(
    ("low", "high", "at", "u", "conforms"),
    [
        # JCGM 106 clause 7, single items (values from memory, arithmetic by scipy).
        (None, -5.40, -5.47, 0.05, 0.91924),
        (490, None, 509.7, 8.6, 0.98901),
        (12.5, 16.3, 13.6, 1.8, 0.66263),
    ],
)
def test_the_risk_is_the_chance_of_a_wrong_verdict(
    low: float | None, high: float | None, at: float, u: float, conforms: float
) -> None:
    judged = judge(between(low, high), value(at, u), SIMPLE)
    assert judged.verdict is GOOD
    assert judged.risk == pytest.approx(1 - conforms, abs=6e-6)


@pytest.mark.parametrize(("rule", "factor", "risk"), [(SIMPLE, 0.0, 0.5), (GUARDED, 2.0, 0.02275)])
def test_specific_risk_at_the_acceptance_limit(rule: DecisionRule, factor: float, risk: float) -> None:
    # JCGM 106: w = 0 gives 0.5, w = 2u gives 0.02275.
    judged = judge(between(None, 10.0), value(10.0 - factor - 1e-4, 1.0), rule)
    assert judged.verdict is GOOD
    assert judged.risk == pytest.approx(risk, abs=1e-4)
    condemned = judge(between(None, 10.0), value(10.0 + factor + 1e-4, 1.0), rule)
    assert condemned.verdict is BAD
    assert condemned.risk == pytest.approx(risk, abs=1e-4)


def test_a_largest_risk_of_five_percent_needs_1_645_standard_uncertainties() -> None:
    rule = DecisionRule(Rule.RISK, 0.05)
    assert rule.guard(1.0, 2.0) == pytest.approx(1.645, abs=5e-4)
    assert judge(between(None, 10.0), value(8.35, 1.0), rule).verdict is GOOD
    assert judge(between(None, 10.0), value(8.36, 1.0), rule).verdict is UNDECIDED


# -- of any rule ------------------------------------------------------------------------------------------------

limits = st.tuples(st.floats(1, 500), st.floats(0.5, 50)).map(lambda pair: (pair[0], pair[0] + pair[1]))
uncertainties = st.floats(0.001, 20)
rules = st.sampled_from(RULES)


@given(limits, st.floats(-60, 600), uncertainties, st.floats(0.0005, 0.4))
def test_no_verdict_carries_more_than_the_largest_risk(
    span: tuple[float, float], at: float, u: float, risk: float
) -> None:
    judged = judge(between(*span), value(at, u), DecisionRule(Rule.RISK, risk))
    assert judged.risk is None or judged.risk <= risk * (1 + 1e-6)
    assert (judged.risk is None) is (judged.verdict is UNDECIDED)


@given(limits, st.floats(-60, 600), uncertainties, rules)
def test_a_more_certain_value_at_the_same_place_never_loses_its_verdict(
    span: tuple[float, float], at: float, u: float, rule: DecisionRule
) -> None:
    before, after = (judge(between(*span), value(at, some), rule) for some in (u, 0.9 * u))
    if before.verdict is not UNDECIDED:
        assert after.verdict is before.verdict


@given(limits, st.floats(-60, 600), uncertainties, rules)
def test_good_values_lie_inside_the_limits_and_bad_ones_outside(
    span: tuple[float, float], at: float, u: float, rule: DecisionRule
) -> None:
    judged = judge(between(*span), value(at, u), rule)
    inside = span[0] <= at <= span[1]
    assert judged.verdict is not GOOD or inside
    assert judged.verdict is not BAD or not inside


@given(limits, st.floats(-60, 600), uncertainties)
def test_a_guarded_verdict_is_also_that_of_simple_acceptance(
    span: tuple[float, float], at: float, u: float
) -> None:
    guarded = judge(between(*span), value(at, u), GUARDED).verdict
    assert guarded in (UNDECIDED, judge(between(*span), value(at, u), SIMPLE).verdict)


def test_few_readings_count_as_less_certain() -> None:
    few = Measured(0.0, combine([Component("readings", 1.0, degrees_of_freedom=4)], coverage=0.95))
    assert standard_of(few) == pytest.approx(2.776 / 1.960, abs=1e-3)  # Student's t, GUM table G.2
    assert standard_of(value(0.0, 1.0)) == pytest.approx(1.0)


@pytest.mark.parametrize("rule", RULES)
def test_what_is_too_uncertain_for_its_limits_is_never_good(rule: DecisionRule) -> None:
    judged = judge(between(9.9, 10.1), value(10.0, 50.0), rule)
    assert judged.verdict is (GOOD if rule is SIMPLE else UNDECIDED)


# -- missing evidence -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("measured", [None, value(math.nan, 1.0), value(math.inf, 1.0)])
@pytest.mark.parametrize("rule", RULES)
def test_missing_evidence_is_undecided(measured: Measured | None, rule: DecisionRule) -> None:
    assert judge(between(0, 10), measured, rule).verdict is UNDECIDED


def test_a_unit_is_as_good_as_its_worst_requirement() -> None:
    asked = [between(0, 10), Requirement(Figure.TRAVEL, Edge.OUTER, high=3.0)]
    good, bad, open_ = (
        [judge(one, value(at, 0.5), GUARDED) for one, at in zip(asked, ats, strict=True)]
        for ats in ((5.0, 1.0), (11.5, 1.0), (5.0, 2.5))
    )
    assert unit_verdict(asked, good) is GOOD
    assert unit_verdict(asked, bad) is BAD
    assert unit_verdict(asked, open_) is UNDECIDED
    assert unit_verdict(asked, [*bad, *open_]) is BAD
    assert unit_verdict(asked, good[:1]) is UNDECIDED
    assert unit_verdict(asked, bad[:1]) is BAD
    assert unit_verdict([], []) is UNDECIDED


@given(st.lists(st.sampled_from([True, False, None]), max_size=6))
def test_only_right_readings_make_a_good_unit(readings: list[bool | None]) -> None:
    asked = [Requirement(Figure.ENDS, edge, unit="") for edge in (*Edge, None)]
    judged: list[Judged] = [
        judge_reading(one, right, "") for one, right in zip(asked, readings, strict=False)
    ]
    good = unit_verdict(asked, judged) is GOOD
    assert good is (readings[: len(asked)] == [True] * len(asked))
    worst = worst_of(judged)
    assert (worst is None) is (not judged)
    assert worst is None or worst.verdict is unit_verdict([], judged)


def test_rules_that_cannot_be() -> None:
    for kind, risk in ((Rule.RISK, None), (Rule.GUARDED, 0.05), (Rule.RISK, 0.5), (Rule.RISK, 0.0)):
        with pytest.raises(ValueError, match="risk"):
            DecisionRule(kind, risk)
    with pytest.raises(ValueError, match="lies above"):
        between(10, 0)


def test_words_name_value_uncertainty_and_limits() -> None:
    asked = Requirement(Figure.RESPONSE_ON, Edge.OUTER, high=0.05, unit="s")
    assert judge(asked, value(0.04, 0.001), GUARDED).words == "40.0 ± 2.0 ms: good up to 48 ms"
    assert judge(asked, value(0.06, 0.001), GUARDED).words == "60.0 ± 2.0 ms: bad above 52 ms"
    near = judge(between(290, 310), value(309.0, 1.0), GUARDED).words
    assert near == (
        "309.0 ± 2.0 mm: too near a limit to tell, good from 292 to 308 mm, bad below 288 mm or above 312 mm"
    )
    wide = judge(between(290, 310), value(300.0, 9.0), GUARDED).words
    assert wide == "300 ± 18 mm: too uncertain for its limits, from 290 to 310 mm"
