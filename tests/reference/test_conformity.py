"""Decisions against JCGM 106, ISO 14253-1 and scipy."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy import stats

from rig.statistics.conformity import (
    Interval,
    NothingAcceptable,
    Process,
    conformance_probability,
    global_consumer_risk,
    global_producer_risk,
    guard_band_for_risk,
    specific_risk,
)

BALL_BEARING = Process(
    lambda error: 4**4 / 6 * error**3 * math.exp(-4 * error), (0, 0.25, 0.5, 1, 1.5, 2.5, 4, 7, 12)
)
"""JCGM 106:2012 9.5.4: radial error of a bearing in micrometres, gamma with mean 1 and deviation 0.5."""


@pytest.mark.parametrize(
    ("measured", "uncertainty", "tolerance", "probability"),
    # JCGM 106:2012 clause 7 examples (read second-hand), arithmetic by normal tables.
    [
        (-5.47, 0.05, Interval(upper=-5.40), 0.91924),
        (509.7, 8.6, Interval(lower=490), 0.98901),
        (13.6, 1.8, Interval(12.5, 16.3), 0.66263),
    ],
)
def test_jcgm_106_conformance(
    measured: float, uncertainty: float, tolerance: Interval, probability: float
) -> None:
    assert conformance_probability(measured, uncertainty, tolerance) == pytest.approx(probability, abs=5e-6)
    assert specific_risk(measured, uncertainty, tolerance) == pytest.approx(1 - probability, abs=5e-6)


@pytest.mark.parametrize(("guard_in_u", "risk"), [(0, 0.5), (1.645, 0.05), (2, 0.02275)])
def test_specific_risk_at_the_acceptance_limit(guard_in_u: float, risk: float) -> None:
    tolerance = Interval(upper=425)
    limit = tolerance.guarded(guard_in_u * 0.6).upper
    assert specific_risk(limit, 0.6, tolerance) == pytest.approx(risk, abs=3e-5)


@given(st.floats(-30, 30), st.floats(0.1, 10), st.floats(0, 20))
def test_probabilities_as_scipy_computes_them(measured: float, uncertainty: float, half_width: float) -> None:
    tolerance = Interval(-half_width, half_width)
    inside = conformance_probability(measured, uncertainty, tolerance)
    outside = specific_risk(measured, uncertainty, tolerance)
    low, high = (-half_width - measured) / uncertainty, (half_width - measured) / uncertainty
    assert inside == pytest.approx(stats.norm.cdf(high) - stats.norm.cdf(low), abs=1e-14)
    assert outside == pytest.approx(stats.norm.cdf(low) + stats.norm.sf(high), rel=1e-10, abs=0)
    assert inside + outside == pytest.approx(1)


def test_a_small_risk_keeps_its_digits() -> None:
    assert specific_risk(420, 0.5, Interval(upper=425)) == pytest.approx(stats.norm.sf(10), rel=1e-10, abs=0)
    for measured in (410, 430):
        chance = conformance_probability(measured, 0.5, Interval(415, 425))
        assert chance == pytest.approx(stats.norm.sf(10), rel=1e-10, abs=0)


def test_jcgm_106_ball_bearing() -> None:
    tolerance = Interval(upper=2)
    untested = BALL_BEARING.expectation(lambda error: float(error not in tolerance), (2,))
    assert untested == pytest.approx(0.042380, abs=5e-7)
    assert global_consumer_risk(BALL_BEARING, 0.25, tolerance, tolerance) == pytest.approx(
        0.0080191, abs=5e-8
    )
    assert global_producer_risk(BALL_BEARING, 0.25, tolerance, tolerance) == pytest.approx(
        0.0174446, abs=5e-8
    )


def test_jcgm_106_ball_bearing_guarded() -> None:
    # The acceptance limit that the document works out for a consumer's risk of 0.1 %, and what it costs the producer.
    tolerance, acceptance = Interval(upper=2), Interval(upper=1.67183)
    assert global_consumer_risk(BALL_BEARING, 0.25, tolerance, acceptance) == pytest.approx(0.001, abs=5e-8)
    assert global_producer_risk(BALL_BEARING, 0.25, tolerance, acceptance) == pytest.approx(0.07549, abs=5e-6)


@given(st.floats(416, 424), st.floats(0.3, 6), st.floats(0.05, 3), st.floats(-2, 2))
def test_global_risks_as_scipy_computes_them(
    mean: float, deviation: float, uncertainty: float, guard_band: float
) -> None:
    tolerance = Interval(415, 425)
    acceptance = tolerance.guarded(guard_band)
    process = Process.normal(mean, deviation)
    consumer = global_consumer_risk(process, uncertainty, tolerance, acceptance)
    producer = global_producer_risk(process, uncertainty, tolerance, acceptance)
    # True value and measured value are jointly normal: risks are volumes of rectangles.
    joint = stats.multivariate_normal(
        [mean, mean], [[deviation**2, deviation**2], [deviation**2, deviation**2 + uncertainty**2]]
    )
    accepted = stats.norm(mean, math.hypot(deviation, uncertainty)).cdf([acceptance.lower, acceptance.upper])
    conforming = stats.norm(mean, deviation).cdf([415, 425])
    both = sum(
        sign * joint.cdf([true, measured])
        for sign, true, measured in (
            (1, 425, acceptance.upper),
            (-1, 415, acceptance.upper),
            (-1, 425, acceptance.lower),
            (1, 415, acceptance.lower),
        )
    )
    assert consumer == pytest.approx(accepted[1] - accepted[0] - both, abs=1e-7)
    assert producer == pytest.approx(conforming[1] - conforming[0] - both, abs=1e-7)


@given(st.floats(0.1, 3), st.floats(0.001, 0.4))
def test_no_accepted_item_carries_more_than_the_allowed_risk(uncertainty: float, risk: float) -> None:
    tolerance = Interval(415, 425)
    assume(specific_risk(420, uncertainty, tolerance) < risk)
    guard_band = guard_band_for_risk(risk, uncertainty, tolerance)
    limit = tolerance.guarded(guard_band).upper
    assert specific_risk(limit, uncertainty, tolerance) <= risk * (1 + 1e-9)
    assert specific_risk(limit + 1e-3 * uncertainty, uncertainty, tolerance) > risk


def test_iso_14253_guard_for_five_percent() -> None:
    # 1.65 u where u is small against the tolerance, exactly so for one limit.
    assert guard_band_for_risk(0.05, 0.2, Interval(415, 425)) == pytest.approx(1.645 * 0.2, abs=1e-4)
    assert guard_band_for_risk(0.05, 0.2, Interval(upper=425)) == pytest.approx(1.645 * 0.2, abs=1e-4)


def test_no_guard_band_helps_a_blunt_measurement() -> None:
    with pytest.raises(NothingAcceptable, match="even in the middle"):
        guard_band_for_risk(0.01, 4, Interval(415, 425))
    with pytest.raises(NothingAcceptable, match="allowed: up to 5"):
        Interval(415, 425).guarded(5.1)


def test_normal_process_is_whole() -> None:
    assert Process.normal(420, 2).expectation(lambda _: 1.0, ()) == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("risk", [0, 0.5, math.nan])
def test_a_risk_that_is_none_is_refused(risk: float) -> None:
    with pytest.raises(ValueError, match=r"allowed: between 0 and 0\.5"):
        guard_band_for_risk(risk, 1, Interval(415, 425))


def test_an_interval_that_falls_is_refused() -> None:
    with pytest.raises(ValueError, match="lies above"):
        Interval(2, 1)
