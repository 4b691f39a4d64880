"""The study reproduces published answers; the sources stand in `published.py`."""

from __future__ import annotations

import math

import pytest

from rig.gauge.anova import analyse
from rig.gauge.bias import Bias
from rig.gauge.components import Part, categories, components_of
from rig.gauge.ranges import by_ranges
from rig.statistics.ranges import range_factors, widest_range
from tests.rig.gauge.published import HANDBOOK, LINEARITY


def test_averages_and_ranges_of_the_handbook():
    study = by_ranges(HANDBOOK)
    assert study.level_ranges == pytest.approx((0.184, 0.513, 0.328), abs=5e-4)
    assert study.mean_range == pytest.approx(0.3417, abs=5e-5)
    assert HANDBOOK.level_means == pytest.approx((0.1903, 0.0683, -0.2543), abs=5e-5)
    assert study.level_difference == pytest.approx(0.4446, abs=1e-4)
    assert study.unit_range == pytest.approx(3.511, abs=5e-4)
    assert study.upper_range == pytest.approx(0.880, abs=1e-3)
    assert study.beyond == ((3, 1),)  # part 4 by the second person, 1.02 wide
    found = (study.repeatability, study.reproducibility, study.gauge, study.unit_spread, study.total)
    assert found == pytest.approx((0.20188, 0.22963, 0.30575, 1.10456, 1.14610), rel=5e-4)
    assert found == pytest.approx((0.20186, 0.22967, 0.30577, 1.10460, 1.14613), rel=2e-4)  # recomputed
    shares = [100 * one / study.total for one in found[:4]]
    assert shares == pytest.approx((17.62, 20.04, 26.68, 96.38), abs=0.02)
    assert math.floor(categories(study.unit_spread, study.gauge)) == 5


def test_analysis_of_variance_of_the_handbook():
    table = analyse(HANDBOOK)
    rows = (table.levels, table.units, table.interaction, table.repeats)
    assert [row.freedom for row in rows] == [2, 9, 18, 60]
    assert [row.squares for row in rows] == pytest.approx((3.16726, 88.36193, 0.35898, 2.75893), abs=1e-5)
    assert sum(row.squares for row in rows) == pytest.approx(94.64711, abs=1e-5)
    assert (table.interaction.f, table.interaction.chance) == pytest.approx((0.434, 0.974), abs=5e-4)
    assert table.pooled
    assert (table.error.mean, table.error.freedom) == (pytest.approx(0.03997, abs=5e-6), 78)
    assert (table.levels.f, table.units.f) == pytest.approx((39.617, 245.614), abs=1e-3)


def test_not_pooled_people_and_units_are_held_against_what_they_do_together():
    table = analyse(HANDBOOK, pooled=False)
    assert (table.levels.f, table.units.f) == pytest.approx((79.406, 492.291), abs=1e-3)
    found = components_of(table)
    assert found[Part.REPEATABILITY].variance == pytest.approx(0.04598, abs=5e-6)
    assert found[Part.LEVEL].variance == pytest.approx(0.05212, abs=5e-6)
    assert found[Part.UNIT].variance == pytest.approx(1.08867, abs=5e-6)
    assert found[Part.INTERACTION].variance == 0.0
    assert found[Part.INTERACTION].raw < 0
    share = 100 * found[Part.GAUGE].deviation / found[Part.TOTAL].deviation
    assert share == pytest.approx(28.75, abs=5e-3)


def test_components_of_the_handbook():
    found = components_of(analyse(HANDBOOK))
    parts = (Part.REPEATABILITY, Part.LEVEL, Part.GAUGE, Part.UNIT, Part.TOTAL)
    variances = [found[part].variance for part in parts]
    assert variances == pytest.approx((0.03997, 0.05146, 0.09143, 1.08645, 1.17788), abs=6e-6)
    deviations = [found[part].deviation for part in parts]
    assert deviations == pytest.approx((0.19993, 0.22684, 0.30237, 1.04233, 1.08530), abs=6e-6)
    shares = [100 * one / deviations[-1] for one in deviations[:4]]
    assert shares == pytest.approx((18.42, 20.90, 27.86, 96.04), abs=6e-3)
    of_tolerance = [100 * 6 * found[part].deviation / 8 for part in (Part.GAUGE, Part.UNIT)]
    assert of_tolerance == pytest.approx((22.68, 78.17), abs=6e-3)
    assert categories(found[Part.UNIT].deviation, found[Part.GAUGE].deviation) == pytest.approx(
        4.861, abs=1e-3
    )


def test_linearity_of_the_handbook():
    pairs = [(true, read - true) for true, readings in LINEARITY.items() for read in readings]
    bias = Bias(*(tuple(column) for column in zip(*pairs, strict=True)))
    assert (bias.line.slope, bias.line.intercept) == pytest.approx((-0.13167, 0.73667), abs=5e-6)
    assert bias.line.scatter == pytest.approx(0.23954, abs=5e-6)
    assert bias.line.slope / bias.line.u_slope == pytest.approx(-12.043, abs=1e-3)
    assert bias.line.intercept / bias.line.u_intercept == pytest.approx(10.158, abs=1e-3)
    means = [mean for _, mean in bias.by_place]
    assert means == pytest.approx((0.49167, 0.125, 0.025, -0.29167, -0.61667), abs=5e-6)
    assert 0.0 not in bias.slope
    # The handbook's figure: the band holds zero about the middle only.
    assert [place for place in (2.0, 4.0, 6.0, 8.0, 10.0) if 0.0 not in bias.at(place)] == [
        2.0,
        4.0,
        8.0,
        10.0,
    ]


@pytest.mark.parametrize(
    ("count", "d2", "d3", "d2_of_one", "upper"),
    [
        # Handbook tables: d2, d3 and D4 as printed for control charts; d2* of one group as AIAG, appendix C.
        (2, 1.12838, 0.85250, 1.41421, 3.267),
        (3, 1.69257, 0.88837, 1.91154, 2.575),
        (4, 2.05875, 0.87981, 2.23887, 2.282),
        (5, 2.32593, 0.86408, 2.48125, 2.114),
        (7, 2.70436, 0.83321, 2.82980, 1.924),
        (10, 3.07751, 0.79705, 3.17905, 1.777),
    ],
)
def test_factors_of_the_range(count, d2, d3, d2_of_one, upper):
    factors = range_factors(count)
    found = (factors.d2, factors.d3, factors.d2_of(1))
    assert found == pytest.approx((d2, d3, d2_of_one), abs=6e-6)
    assert factors.upper == pytest.approx(upper, abs=6e-4)


@pytest.mark.parametrize(
    # Percentage points of the studentised range with endless degrees of freedom, as every handbook has them.
    ("count", "chance", "width"),
    [(2, 0.05, 2.77), (3, 0.05, 3.31), (3, 0.01, 4.12), (10, 0.05, 4.47), (5, 0.01, 4.60)],
)
def test_how_wide_a_range_may_be(count, chance, width):
    assert widest_range(count, 1, chance) == pytest.approx(width, abs=0.006)
    assert widest_range(count, 30, chance) > width


def test_the_range_of_one_value_is_refused():
    with pytest.raises(ValueError, match="of 2 to 100"):
        range_factors(1)
