"""Bounds of a share (Clopper-Pearson), against published values and two independent libraries."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import beta
from statsmodels.stats.proportion import proportion_confint

from rig.statistics.binomial import beta_below, beta_quantile, clopper_pearson, lower_bound

# NIST/SEMATECH e-Handbook 7.2.4.1 prints .071354 and .401029 for 4 of 20 at 90 % (from memory); the rest as
# computed by scipy's beta and statsmodels' method "beta".
TABLE = [
    (4, 20, 0.90, 0.0713539, 0.4010281),
    (0, 20, 0.95, 0.0, 0.168433),
    (0, 30, 0.95, 0.0, 0.115703),
    (0, 60, 0.95, 0.0, 0.059629),
    (1, 20, 0.95, 0.001265, 0.248733),
    (5, 50, 0.95, 0.033275, 0.218135),
]
# One-sided 95 % with no failure: 1 - .05^(1/n).
ZERO_FAILURES = [
    (20, 0.139108),
    (30, 0.095034),
    (59, 0.049508),
    (60, 0.048703),
    (100, 0.029513),
    (300, 0.009936),
]


@pytest.mark.parametrize(("count", "trials", "coverage", "lower", "upper"), TABLE)
def test_two_sided_bounds_are_the_published_ones(
    count: int, trials: int, coverage: float, lower: float, upper: float
) -> None:
    found = clopper_pearson(count, trials, coverage)
    assert found.lower == pytest.approx(lower, abs=6e-7)
    assert found.upper == pytest.approx(upper, abs=6e-7)


@pytest.mark.parametrize(("trials", "upper"), ZERO_FAILURES)
def test_no_failure_at_all_bounds_the_share_from_above(trials: int, upper: float) -> None:
    assert clopper_pearson(0, trials, 0.90).upper == pytest.approx(upper, abs=6e-7)
    assert clopper_pearson(0, trials, 0.90).upper == pytest.approx(1 - 0.05 ** (1 / trials), rel=1e-9)
    assert lower_bound(trials, trials) == pytest.approx(0.05 ** (1 / trials), rel=1e-9)


def test_fifty_nine_without_failure_prove_ninety_five_percent_and_fifty_eight_do_not() -> None:
    # One-sided for 95 %: both sides of 90 %.
    assert clopper_pearson(0, 59, 0.90).upper < 0.05 < clopper_pearson(0, 58, 0.90).upper
    assert clopper_pearson(0, 299, 0.90).upper < 0.01 < clopper_pearson(0, 298, 0.90).upper


@given(st.integers(1, 200_000), st.floats(0, 1), st.sampled_from([0.8, 0.9, 0.95, 0.99, 0.999]))
def test_bounds_agree_with_two_libraries(trials: int, share: float, coverage: float) -> None:
    count = round(share * trials)
    found = clopper_pearson(count, trials, coverage)
    doubt = (1 - coverage) / 2
    lower = beta.ppf(doubt, count, trials - count + 1) if count else 0.0
    upper = beta.ppf(1 - doubt, count + 1, trials - count) if count < trials else 1.0
    assert found.lower == pytest.approx(lower, rel=1e-7, abs=1e-14)
    assert found.upper == pytest.approx(upper, rel=1e-7, abs=1e-14)
    by_other = proportion_confint(count, trials, alpha=1 - coverage, method="beta")
    assert (found.lower, found.upper) == pytest.approx(by_other, rel=1e-7, abs=1e-14)
    assert count / trials in found


@given(st.floats(0.5, 5e4), st.floats(0.5, 5e4), st.floats(0.001, 0.999))
def test_a_quantile_has_its_probability_below_it(a: float, b: float, probability: float) -> None:
    at = beta_quantile(probability, a, b)
    assert beta_below(at, a, b) == pytest.approx(probability, abs=1e-9)
    assert beta_below(at, a, b) == pytest.approx(float(beta.cdf(at, a, b)), abs=1e-9)


def test_ends_of_the_distribution() -> None:
    assert beta_below(0.0, 2, 3) == 0.0
    assert beta_below(1.0, 2, 3) == 1.0


@pytest.mark.parametrize(
    ("count", "trials", "coverage", "said"),
    [
        (-1, 5, 0.95, "-1 of 5"),
        (6, 5, 0.95, "6 of 5"),
        (1, 5, 1.0, "coverage is 1"),
        (1, 5, 0.0, "coverage is 0"),
    ],
)
def test_what_cannot_be_is_refused(count: int, trials: int, coverage: float, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        clopper_pearson(count, trials, coverage)


def test_without_trials_nothing_is_known() -> None:
    found = clopper_pearson(0, 0)
    assert (found.lower, found.upper) == (0.0, 1.0)
