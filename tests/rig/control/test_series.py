"""The chart of a check unit: limits that are learnt, and then hold; what it says of drift, jumps and quiet."""

from __future__ import annotations

import random

import pytest

from rig.control.chart import (
    BASELINE,
    EWMA_RULE,
    RANGE_RULE,
    UNCERTAINTY_RULE,
    Baseline,
    ControlChart,
    Watching,
    chart_of,
)
from rig.control.plot import chart_lines
from rig.control.series import FEWEST, learning_chart

U_MM = 0.6


def charted(values: list[float], restarts: tuple[int, ...] = (), u_mm: float = U_MM) -> ControlChart:
    return learning_chart(values, [u_mm] * len(values), Watching(), restarts=restarts)


def drawn(count: int, seed: int = 1, sigma: float = 0.15, slope: float = 0.0, begin: int = 0) -> list[float]:
    draw = random.Random(seed)
    return [draw.gauss(0.1, sigma) + slope * max(0, index - begin) for index in range(count)]


def test_limits_come_with_the_fifth_value_narrow_and_then_stay() -> None:
    chart = charted(drawn(30))
    assert chart.limits[:FEWEST] == (None,) * FEWEST
    widths = [one[1] - one[0] for one in chart.limits[FEWEST:] if one is not None]
    assert widths[0] > 2 * widths[-1]
    assert len({round(one, 12) for one in widths[BASELINE - FEWEST :]}) == 1
    assert chart.fixed
    assert chart.baseline is not None
    assert chart.baseline.count == BASELINE


def test_while_limits_are_learnt_an_undisturbed_rig_hardly_ever_gives_a_signal() -> None:
    signals = tried = 0
    for seed in range(300):
        chart = charted(drawn(BASELINE, seed), u_mm=9.0)
        signals += len(chart.signals)
        tried += BASELINE - FEWEST
    # As rare as beyond three standard deviations, 0.27 %; the bound is that of a binomial count, four times its spread.
    assert signals / tried < 0.0027 + 4 * (0.0027 / tried) ** 0.5


def test_a_creeping_scale_gives_a_signal_long_before_its_own_uncertainty_shows_it() -> None:
    chart = charted(drawn(60, slope=0.03, begin=20))
    first = chart.signals[0]
    assert first.at < 36
    doubted = [one.at for one in chart.signals if one.rule == UNCERTAINTY_RULE]
    assert not doubted or first.at < doubted[0]
    assert any(one.rule == EWMA_RULE for one in chart.signals)


def test_a_jump_is_a_signal_with_the_second_value_already() -> None:
    chart = charted([0.0, 1.5])
    assert [(one.rule, one.at) for one in chart.signals] == [(UNCERTAINTY_RULE, 1)]


def test_a_disturbed_value_does_not_widen_the_limits() -> None:
    quiet = drawn(BASELINE)
    disturbed = [*quiet[:10], 2.0, *quiet[10:]]
    chart = charted(disturbed)
    assert chart.baseline == charted(quiet).baseline
    assert {one.at for one in chart.signals} == {10}


def test_counting_begins_anew_where_somebody_has_looked() -> None:
    values = [*drawn(BASELINE), *([0.35] * 12)]
    before = {one.rule for one in charted(values).signals if one.at >= 29}
    after = {one.rule for one in charted(values, restarts=(28,)).signals if one.at >= 29}
    assert "nine-one-side" in before
    assert "nine-one-side" not in after


def test_ranges_do_not_reach_across_a_look() -> None:
    values = [*drawn(BASELINE), *drawn(3, seed=4), 0.75, 0.1, 0.12]
    base = Baseline.of(values[:BASELINE])
    for restarts, found in (((), [23, 24]), ((24,), [23])):
        chart = chart_of(values, Watching(ranges=True), base, restarts=restarts)
        assert [one.at for one in chart.signals if one.rule == RANGE_RULE] == found
    assert not [one for one in charted(values).signals if one.rule == RANGE_RULE]


def test_values_that_never_move_make_no_limits() -> None:
    chart = charted([0.25] * 30)
    assert chart.baseline is None
    assert not chart.signals


def test_a_baseline_needs_two_values() -> None:
    with pytest.raises(ValueError, match="two values or more"):
        Baseline.of([1.0])
    assert chart_of([1.0], Watching()).baseline is None


@pytest.mark.parametrize("width", [60, 80, 120])
@pytest.mark.parametrize("count", [0, 1, 2, 30, 400])
def test_a_chart_of_text_fits_its_width_and_marks_each_signal(width: int, count: int) -> None:
    values = drawn(count)
    if count > 25:
        values[-3] = 1.4
    lines = chart_lines(charted(values, u_mm=9.0), "mm", width)
    assert max(map(len, lines)) <= width
    points = [line.split("|", 1)[1] for line in lines if "|" in line]
    assert sum(line.count("X") for line in points) > 0 or count <= 25
    assert (f"of {count}" in lines[0]) is (count == 400)
