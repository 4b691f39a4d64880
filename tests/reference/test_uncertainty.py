"""Uncertainty budgets against the GUM's own examples, its table of Student's t, and scipy."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from rig.statistics.uncertainty import (
    Component,
    Distribution,
    combine,
    coverage_factor,
    student_t_quantile,
)


def gauge_block() -> tuple[Component, ...]:
    """JCGM 100:2008 H.1, end gauge calibration; nanometres. Thermal terms that vanish to first order are left in."""
    length_nm, expansion_per_k = 50.000623e6, 11.5e-6
    return (
        Component("standard", 25, degrees_of_freedom=18),
        Component("difference, repeated", 5.8, degrees_of_freedom=24),
        Component("comparator, random", 3.9, degrees_of_freedom=5),
        Component("comparator, systematic", 6.7, degrees_of_freedom=8),
        Component.from_half_width(
            "difference in expansion", 1e-6, sensitivity=-length_nm * -0.1, degrees_of_freedom=50
        ),
        Component.from_half_width(
            "difference in temperature", 0.05, sensitivity=-length_nm * expansion_per_k, degrees_of_freedom=2
        ),
        Component.from_half_width("expansion", 2e-6, sensitivity=0),
        Component("temperature of the bench", math.hypot(0.2, 0.5 / math.sqrt(2)), sensitivity=0),
    )


def test_gum_end_gauge() -> None:
    budget = combine(gauge_block(), coverage=0.99)
    contributions = [row.contribution for row in budget.components]
    assert math.hypot(*contributions[1:4]) == pytest.approx(9.7, abs=0.05)
    assert contributions[4:6] == pytest.approx([2.9, 16.6], abs=0.05)
    assert contributions[6:] == [0, 0]
    assert budget.combined == pytest.approx(32, abs=0.5)  # as published
    assert budget.combined == pytest.approx(31.664, abs=0.02)  # unrounded, from independent code
    assert math.floor(budget.effective_dof) == 16  # published: 16.7, truncated to 16
    assert budget.effective_dof == pytest.approx(16.75, abs=0.1)
    assert budget.coverage_factor == pytest.approx(2.92, abs=0.005)
    assert 92.4 < budget.expanded < 93.5  # published: 93 nm


def test_gum_end_gauge_at_95_percent() -> None:
    # 2.12 * 31.66 = 67.1 nm.
    assert combine(gauge_block(), coverage=0.95).expanded == pytest.approx(67.1, abs=0.1)


@pytest.mark.parametrize(
    ("coverage", "dof", "published"),
    # JCGM 100:2008 table G.2.
    [
        (0.95, 1, 12.71),
        (0.95, 5, 2.57),
        (0.95, 10, 2.23),
        (0.95, 16, 2.12),
        (0.95, 20, 2.09),
        (0.95, 30, 2.04),
        (0.9545, 10, 2.28),
        (0.9545, 20, 2.13),
        (0.99, 10, 3.17),
        (0.99, 16, 2.92),
        (0.9973, 5, 5.51),
        (0.9545, math.inf, 2.00),
    ],
)
def test_gum_table_of_t(coverage: float, dof: float, published: float) -> None:
    assert coverage_factor(coverage, dof) == pytest.approx(published, abs=0.005)


@pytest.mark.parametrize("dof", [1, 2, 3, 5, 10, 16, 29, 100, 1000, 10**6, 10**12])
def test_student_as_scipy_computes_it(dof: int) -> None:
    for coverage in (0.01, 0.5, 0.6827, 0.9, 0.95, 0.9545, 0.99, 0.9973, 0.99999):
        theirs = stats.t.ppf((1 + coverage) / 2, dof)
        assert coverage_factor(coverage, dof) == pytest.approx(theirs, rel=1e-9)


@given(st.floats(0.001, 0.999), st.integers(1, 200))
def test_t_quantile_is_even_and_undoes_the_distribution(probability: float, dof: int) -> None:
    quantile = student_t_quantile(probability, dof)
    assert quantile == pytest.approx(-student_t_quantile(1 - probability, dof), abs=1e-9)
    assert stats.t.cdf(quantile, dof) == pytest.approx(probability, abs=1e-11)


@given(st.floats(0.05, 0.999), st.integers(1, 300))
def test_fewer_degrees_of_freedom_need_a_wider_interval(coverage: float, dof: int) -> None:
    assert coverage_factor(coverage, dof) > coverage_factor(coverage, dof + 1) > coverage_factor(coverage)


@pytest.mark.parametrize(
    ("distribution", "standard"),
    # a/sqrt(3), a/sqrt(6), a/sqrt(2): JCGM 100 4.3.7, 4.3.9, H.1.3.4.
    [
        (Distribution.RECTANGULAR, 0.57735),
        (Distribution.TRIANGULAR, 0.40825),
        (Distribution.ARCSINE, 0.70711),
    ],
)
def test_half_widths(distribution: Distribution, standard: float) -> None:
    assert Component.from_half_width("x", 1, distribution).standard_uncertainty == pytest.approx(
        standard, abs=5e-6
    )


def test_resolution() -> None:
    # JCGM 100 F.2.2.1: 0.29 steps; 0.01 gives 0.0028868.
    assert Component.from_resolution("scale", 0.01).standard_uncertainty == pytest.approx(0.0028868, abs=5e-8)


def test_readings_give_the_spread_of_their_mean() -> None:
    row = Component.from_readings("operate point", [419.8, 420.1, 420.0, 420.3, 419.8])
    assert row.standard_uncertainty == pytest.approx(stats.sem([419.8, 420.1, 420.0, 420.3, 419.8]))
    assert row.degrees_of_freedom == 4


def test_welch_satterthwaite() -> None:
    one = combine([Component("few", 3, degrees_of_freedom=4), Component("known", 4)])
    assert one.combined == 5
    assert one.effective_dof == pytest.approx(30.864, abs=5e-4)
    equal = combine([Component("a", 1, degrees_of_freedom=10), Component("b", 1, degrees_of_freedom=10)])
    assert equal.effective_dof == pytest.approx(20)


def test_dof_are_truncated_not_rounded() -> None:
    budget = combine([Component("few", 3, degrees_of_freedom=4), Component("known", 4)], coverage=0.95)
    assert budget.coverage_factor == pytest.approx(stats.t.ppf(0.975, 30))


def test_less_than_one_dof_counts_as_one() -> None:
    budget = combine([Component("a guess", 1, degrees_of_freedom=0.5)], coverage=0.95)
    assert budget.coverage_factor == pytest.approx(12.706, abs=1e-3)


def test_known_distributions_make_a_factor_of_two() -> None:
    budget = combine([Component.from_half_width("placement", 1)])
    assert budget.effective_dof == math.inf
    assert budget.coverage_factor == pytest.approx(2, abs=1e-5)


rows = st.builds(Component, st.just("x"), st.floats(1e-6, 1e3), st.floats(-5, 5), st.floats(1, 1e6))


@given(st.lists(rows, min_size=1, max_size=6), rows)
def test_one_more_source_never_helps(components: list[Component], more: Component) -> None:
    assert combine([*components, more]).combined >= combine(components).combined


@given(st.lists(rows, min_size=1, max_size=6))
def test_effective_dof_lie_between_the_least_and_the_sum(components: list[Component]) -> None:
    budget = combine(components)
    dof = [row.degrees_of_freedom for row in components if row.contribution]
    if budget.combined > 1e-3:
        assert min(dof) * (1 - 1e-9) <= budget.effective_dof <= sum(dof) * (1 + 1e-9)
        assert sum(budget.share(row) for row in components) == pytest.approx(1)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Component("x", -1),
        lambda: Component("x", math.nan),
        lambda: Component("x", math.inf),
        lambda: Component("x", 1, math.inf),
        lambda: Component("x", 1, 1, 0),
        lambda: Component.from_readings("x", [1.0]),
        lambda: coverage_factor(1),
        lambda: coverage_factor(0.95, 0.5),
        lambda: student_t_quantile(0, 5),
    ],
)
def test_nonsense_is_refused(wrong: object) -> None:
    with pytest.raises(ValueError, match="allowed"):
        wrong()  # type: ignore[operator]


def test_an_empty_budget_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one component"):
        combine([])


def test_a_budget_of_nothing_is_nothing() -> None:
    budget = combine([Component("none", 0)])
    assert (budget.combined, budget.expanded, budget.share(budget.components[0])) == (0, 0, 0)
