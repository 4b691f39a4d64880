"""What many looks do to where a unit seems to switch."""

from __future__ import annotations

import random
from statistics import median, quantiles

import pytest

from rig.edges.looks import first_of, largest_step_mm, looks_in, noise_seen, suppose_spreads


@pytest.mark.parametrize("looks", [1, 2, 5, 20])
def test_the_first_of_many_is_as_early_as_drawing_shows(looks: int) -> None:
    draw = random.Random(looks)
    firsts = [max(draw.gauss(0, 1) for _ in range(looks)) for _ in range(20_000)]
    early, scatter = first_of(looks)
    assert early == pytest.approx(median(firsts), abs=0.03)
    cuts = quantiles(firsts, n=1000)
    assert scatter == pytest.approx((cuts[840] - cuts[158]) / 2, abs=0.03)


def test_looks_grow_with_the_time_they_have() -> None:
    assert looks_in(0.01, 0.05) == 1
    assert looks_in(0.1, 0.05) == pytest.approx(3)
    assert looks_in(1.0, 0.05) == pytest.approx(39)


def test_one_look_is_neither_early_nor_doubtful() -> None:
    spreads = suppose_spreads((0.1, 0.8), looks=1)
    assert [spread.sd_mm for spread in spreads] == pytest.approx([0.1, 0.2, 0.4, 0.8])
    assert all(spread.early_mm == 0 for spread in spreads)


def test_many_looks_are_supposed_with_doubt_and_the_place_of_the_target_with_each() -> None:
    spreads = suppose_spreads((0.1, 0.8), looks=6, placement_mm=0.3)
    earliest = max(spread.early_mm for spread in spreads)
    assert earliest == pytest.approx(0.8 * first_of(12)[0])
    assert min(spread.early_mm for spread in spreads) == pytest.approx(0.1 * first_of(3)[0])
    assert min(spread.sd_mm for spread in spreads) > 0.3


def test_noise_is_sought_around_what_was_seen() -> None:
    low_mm, high_mm = noise_seen([300.0, 300.4, 299.8, 300.2], looks=1, least_mm=0.01)
    assert low_mm < 0.258 < high_mm  # their standard deviation
    assert noise_seen([300.0, 300.0], looks=1, least_mm=0.05)[0] == pytest.approx(0.025)


def test_a_step_is_what_parts_a_row_of_points_for_good() -> None:
    assert largest_step_mm((400.0, 400.6, 406.2, 406.4, 406.1)) == pytest.approx(5.5)
    assert largest_step_mm((406.0, 400.0)) == pytest.approx(6.0)
    assert largest_step_mm((400.0, 403.0, 401.0, 404.0, 402.0)) == 0.0
    assert largest_step_mm((400.0, 400.5, 406.0, 400.2)) == pytest.approx(0.0)
    assert largest_step_mm((400.0,)) == 0.0
