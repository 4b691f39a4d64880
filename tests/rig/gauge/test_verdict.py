"""What a study comes to: by which limits, what to mend first, and that it says so in words."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from rig.gauge.bias import Bias
from rig.gauge.components import Part
from rig.gauge.design import Design, Factor, drawn_trials
from rig.gauge.figures import Figures, Scale
from rig.gauge.values import Values
from rig.gauge.verdict import Fitness, conclude, fitness_of
from tests.rig.gauge.published import HANDBOOK

PEOPLE = ("Maren", "Tobias", "Ilse")


def figures(
    *,
    unit: float = 3.0,
    level: tuple[float, ...] = (0.0, 0.0, 0.0),
    both: float = 0.0,
    error: float = 0.1,
    tolerance_mm: float = 12.0,
    claimed_mm: float = 0.2,
    factor: Factor = Factor.PERSON,
    seed: int = 3,
) -> Figures:
    draw = random.Random(seed)
    units = tuple(f"KEPT-{number:02}" for number in range(1, 11))
    rows = []
    for _ in units:
        own = draw.gauss(560.0, unit)
        cells = [own + off + draw.gauss(0.0, both) for off in level]
        rows.append(tuple(tuple(draw.gauss(cell, error) for _ in range(3)) for cell in cells))
    trials = drawn_trials(units, PEOPLE, 3, 1)
    half_mm = tolerance_mm / 2
    design = Design(
        "G-1", "QOC-1", "barrel", "simulated", "A", "outer", 560 - half_mm, 560 + half_mm, factor, units, PEOPLE,
        3, 1, trials,
    )  # fmt: skip
    return Figures(design, Values(tuple(rows)), claimed_mm, None)


@pytest.mark.parametrize(
    ("share", "fitness"),
    [
        (0.0, Fitness.FIT),
        (0.0999, Fitness.FIT),
        (0.1, Fitness.RESERVED),
        (0.3, Fitness.RESERVED),
        (0.301, Fitness.UNFIT),
    ],
)
def test_limits_are_those_of_the_handbook(share: float, fitness: Fitness) -> None:
    assert fitness_of(share) is fitness


def test_a_good_rig_is_fit_and_nothing_has_to_be_mended() -> None:
    found = conclude(figures(error=0.1))
    assert found.fitness is Fitness.FIT
    assert "may judge" in found.judging
    assert found.first.startswith("Nothing has to be mended")


def test_a_rig_that_scatters_has_its_repeatability_mended_first() -> None:
    told = figures(error=0.9)
    found = conclude(told)
    assert found.fitness is Fitness.UNFIT
    assert "must not judge" in found.judging
    assert found.first.startswith("Mend first: repeatability")
    assert "states a standard uncertainty of 0.200 mm" in found.words
    assert "scatter more than the rig says" in found.words


def test_the_person_who_measures_otherwise_is_named() -> None:
    told = figures(error=0.1, level=(0.0, 0.8, 0.1))
    found = conclude(told)
    assert found.first.startswith("Mend first: difference between people")
    assert "Tobias measures +0.5" in found.first
    assert told.farthest_level[0] == "Tobias"


def test_settings_are_not_told_to_watch_one_another() -> None:
    found = conclude(figures(error=0.1, level=(0.0, 0.8, 0.1), factor=Factor.SETTING))
    assert "difference between settings" in found.first
    assert "stop or a pin" in found.first


def test_people_who_differ_on_some_units_only_are_seen() -> None:
    told = figures(error=0.1, both=0.8)
    assert told.anova.pooled is False
    found = conclude(told)
    assert "people and units together" in found.first
    assert told.oddest_unit in found.first


def test_units_alike_are_not_told_apart_which_is_no_reproach_to_judging() -> None:
    found = conclude(figures(unit=0.05, error=0.1))
    assert found.fitness is Fitness.FIT
    assert "too much alike" in found.telling


def test_a_range_beyond_chance_is_looked_into_first() -> None:
    told = figures(error=0.3)
    rows = [list(map(list, unit)) for unit in told.values.by]
    rows[3][1][0] += 6.0
    spoilt = replace(told, values=Values(tuple(tuple(tuple(cell) for cell in unit) for unit in rows)))
    found = conclude(spoilt)
    assert spoilt.beyond == (("KEPT-04", "Tobias"),)
    assert "KEPT-04 by Tobias" in found.first


def test_among_many_ranges_one_above_the_limit_is_no_alarm() -> None:
    # With 150 ranges of two values one is above three standard deviations in three studies of four.
    draw, alarms, above = random.Random(5), 0, 0
    for _ in range(20):
        rows = tuple(
            tuple(tuple(draw.gauss(560.0, 0.2) for _ in range(2)) for _ in range(3)) for _ in range(50)
        )
        told = replace(
            figures(), values=Values(rows), design=replace(figures().design, units=tuple("x" * 50))
        )
        above += bool(told.beyond)
        alarms += bool(told.surely_beyond)
    assert above > 10
    assert alarms <= 3


def test_the_word_is_held_against_its_interval() -> None:
    # Three people that differ: the interval reaches far, and that is said.
    told = figures(error=0.1, level=(0.0, 0.5, -0.3))
    assert told.shares_of_tolerance.high > 0.3 > told.share_of_tolerance(Part.GAUGE)
    assert "That interval reaches" in conclude(told).judging


def test_figures_of_the_handbook_come_to_reserve() -> None:
    told = replace(figures(tolerance_mm=8.0), values=HANDBOOK)
    assert told.share_of_tolerance(Part.GAUGE) == pytest.approx(0.2268, abs=1e-4)
    assert told.classes == 4
    assert conclude(told).fitness is Fitness.RESERVED


def test_bias_is_told_with_its_interval_and_whether_it_is_corrected() -> None:
    true_mm = (100.0, 300.0, 500.0, 700.0, 900.0)
    off_mm = (0.11, 0.29, 0.52, 0.68, 0.91)
    scale = Scale(Bias(true_mm, off_mm), True, 0.05, "2026-01-05", "gauge blocks")
    told = conclude(replace(figures(), scale=scale)).words
    assert "+0.56" in told
    assert "is not within chance" in told
    assert "changes by +0.995 mm for each metre" in told
    assert "corrected by that" in told
    assert "in every value" in conclude(replace(figures(), scale=replace(scale, corrected=False))).words
    assert "never calibrated" in conclude(figures()).words
