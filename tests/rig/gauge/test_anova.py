"""The analysis of variance against another implementation, and its intervals against what they promise."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chi2
from scipy.stats import f as f_distribution
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

from rig.gauge.anova import Row, analyse
from rig.gauge.components import Part, components_of, share_of_spread
from rig.gauge.intervals import Term, generalised, of_variance
from rig.gauge.values import Values


def drawn(rng, shape, unit=1.0, level=0.4, both=0.0, error=0.3):
    """Values of a study whose components are placed in."""
    units, levels, _ = shape
    return (
        rng.normal(0, unit, (units, 1, 1))
        + rng.normal(0, level, (1, levels, 1))
        + rng.normal(0, both, (units, levels, 1))
        + rng.normal(400, error, shape)
    )


def values_in(array):
    return Values(tuple(tuple(tuple(cell) for cell in unit) for unit in array.tolist()))


@pytest.mark.parametrize(
    ("seed", "shape", "both"),
    [(1, (10, 3, 3), 0.0), (2, (5, 2, 4), 0.5), (3, (2, 2, 2), 0.2), (4, (7, 4, 2), 0.0)],
)
def test_the_table_is_that_of_another_implementation(seed, shape, both):
    array = drawn(np.random.default_rng(seed), shape, both=both)
    unit, level, _ = np.indices(shape)
    data = pd.DataFrame({"y": array.ravel(), "unit": unit.ravel(), "level": level.ravel()})
    reference = anova_lm(ols("y ~ C(unit) * C(level)", data).fit())
    table = analyse(values_in(array), pooled=False)
    for row, name in (
        (table.units, "C(unit)"),
        (table.levels, "C(level)"),
        (table.interaction, "C(unit):C(level)"),
        (table.repeats, "Residual"),
    ):
        assert row.squares == pytest.approx(reference.loc[name, "sum_sq"], rel=1e-8, abs=1e-9)
        assert row.freedom == reference.loc[name, "df"]
    expected = reference.loc["C(unit):C(level)", ["F", "PR(>F)"]].tolist()
    assert [table.interaction.f, table.interaction.chance] == pytest.approx(expected, rel=1e-6)


def test_what_people_and_units_do_together_is_only_pooled_where_chance_explains_it():
    rng = np.random.default_rng(5)
    assert analyse(values_in(drawn(rng, (10, 3, 3), both=1.0))).pooled is False
    assert analyse(values_in(drawn(rng, (10, 3, 3), both=0.0))).pooled is True


def test_the_interval_of_one_mean_square_is_the_exact_one():
    row = Row("repeats", 7.3, 12)
    found = of_variance([Term(1.0, row)])
    exact = [row.squares / chi2.ppf(one, 12) for one in (0.975, 0.025)]
    assert [found.low, found.high] == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize(("freedom", "against"), [(9, 18), (2, 18), (2, 78), (18, 60)])
def test_the_interval_of_a_difference_ends_at_zero_where_its_f_test_does(freedom: int, against: int) -> None:
    """What the method is made for: nothing is told of a variance whose F is just within chance."""
    other = Row("repeats", 1.7 * against, against)
    for chance, end in ((0.975, "low"), (0.025, "high")):
        just = Row("units", 1.7 * f_distribution.ppf(chance, freedom, against) * freedom, freedom)
        found = of_variance([Term(0.25, just), Term(-0.25, other)])
        assert getattr(found, end) == pytest.approx(0.0, abs=1e-9)
        larger = Row("units", 1.1 * just.squares, freedom)
        assert getattr(of_variance([Term(0.25, larger), Term(-0.25, other)]), end) > 0


def test_repeatability_has_the_exact_interval_of_what_it_is_taken_from():
    array = drawn(np.random.default_rng(2), (10, 3, 3), both=0.5)
    for pooled, freedom in ((False, 60), (True, 78)):
        table = analyse(values_in(array), pooled=pooled)
        found = components_of(table)[Part.REPEATABILITY].interval
        assert found is not None
        exact = [table.error.squares / chi2.ppf(one, freedom) for one in (0.975, 0.025)]
        assert [found.low, found.high] == pytest.approx(exact, rel=1e-9)


def test_generalised_intervals_of_one_mean_square_come_to_the_exact_one():
    found = generalised([Row("repeats", 7.3, 12)], lambda true: true[0])
    exact = [7.3 / chi2.ppf(one, 12) for one in (0.975, 0.025)]
    assert [found.low, found.high] == pytest.approx(exact, rel=2e-3)


def test_values_without_any_scatter_are_no_trouble():
    found = components_of(analyse(Values((((1.0, 1.0), (1.0, 1.0)), ((1.0, 1.0), (1.0, 1.0))))))
    assert all(one.variance == 0.0 for one in found.values())


@pytest.mark.parametrize(
    "by", [((1.0, 2.0),), (((1.0,), (2.0,)), ((1.0,), (2.0,))), (((1.0, 2.0), (1.0,)),) * 2]
)
def test_a_study_with_gaps_is_refused(by):
    with pytest.raises((ValueError, TypeError)):
        analyse(Values(by))


def coverage(studies, *, both, seed):
    """How often each interval holds what was placed in."""
    rng = np.random.default_rng(seed)
    unit, level, error = 1.0, 0.4, 0.3
    truth = {
        Part.REPEATABILITY: error**2,
        Part.LEVEL: level**2,
        Part.UNIT: unit**2,
        Part.REPRODUCIBILITY: level**2 + both**2,
        Part.GAUGE: level**2 + both**2 + error**2,
    }
    held = dict.fromkeys([*truth, "share of spread"], 0)
    for _ in range(studies):
        table = analyse(values_in(drawn(rng, (10, 3, 3), unit, level, both, error)))
        found = components_of(table)
        for part, variance in truth.items():
            interval = found[part].interval
            held[part] += interval is not None and variance in interval
        share = math.sqrt(truth[Part.GAUGE] / (truth[Part.GAUGE] + unit**2))
        held["share of spread"] += share in share_of_spread(table)
    return {part: count / studies for part, count in held.items()}


def test_intervals_hold_about_as_often_as_they_say():
    # 60 studies: a method that holds 95 of 100 holds fewer than 50 of 60 once in 5000.
    assert min(coverage(60, both=0.0, seed=6).values()) > 50 / 60


@pytest.mark.slow
@pytest.mark.parametrize("both", [0.0, 0.2])
def test_intervals_hold_what_was_placed_in_in_90_to_97_of_100_of_500_studies(both):
    # Drawn numbers; the same through the simulated rig is `python -m tests.benchmarks.gauge`.
    for part, share in coverage(500, both=both, seed=7).items():
        assert 0.90 <= share <= 0.97, (part, share)
