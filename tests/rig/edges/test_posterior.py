"""The belief about one edge, against a plain fine grid and against what must hold for any readings."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rig.edges.posterior import EdgeModel, Posterior, Reading, Spread
from tests.looking import examples

SPREADS = (Spread(0.2, 0.1), Spread(0.5, 0.4), Spread(1.0, 0.9, weight=0.5))
MODEL = EdgeModel(100.0, 140.0, rising=False, spreads=SPREADS, false_share=0.03, outside_share=0.02)

readings = st.lists(
    st.builds(Reading, st.floats(100.0, 140.0).map(lambda mm: round(mm, 1)), st.booleans()),
    min_size=1,
    max_size=12,
)


def believed(model: EdgeModel, taken: list[Reading]) -> Posterior:
    belief = Posterior.start(model)
    for reading in taken:
        belief = belief.after(reading)
    return belief


def plain_grid(model: EdgeModel, taken: list[Reading], cells: int = 40_000):
    """Thresholds and probabilities by the definition, with scipy's normal law; outside masses first and last."""
    norm = pytest.importorskip("scipy.stats", reason="comparison skipped: scipy has no wheel here").norm
    step_mm = (model.high_mm - model.low_mm) / cells
    places_mm = model.low_mm + (np.arange(cells) + 0.5) * step_mm
    inside = np.full(cells, (1 - model.outside_share) / cells)
    thresholds_mm = np.concatenate(([-1e9], places_mm, [1e9]))
    prior = np.concatenate(([model.outside_share / 2], inside, [model.outside_share / 2]))
    total = np.zeros(cells + 2)
    for spread in model.spreads:
        mass = prior * spread.weight
        for reading in taken:
            sign = 1 if model.rising else -1
            past = (sign * (reading.position_mm - thresholds_mm) + spread.early_mm) / spread.sd_mm
            chance = model.false_share + (1 - 2 * model.false_share) * norm.cdf(past)
            mass = mass * (chance if reading.switched else 1 - chance)
        total += mass
    return thresholds_mm, total / total.sum()


SEARCHED = [
    Reading(120.0, True),
    Reading(130.0, False),
    Reading(125.0, False),
    Reading(122.5, False),
    Reading(121.2, True),
    Reading(121.8, False),
    Reading(121.5, True),
    Reading(121.6, False),
    Reading(121.6, True),
    Reading(121.7, False),
]


def test_it_agrees_with_a_plain_fine_grid_after_a_search() -> None:
    thresholds_mm, shares = plain_grid(MODEL, SEARCHED)
    rises = np.cumsum(shares)
    belief = believed(MODEL, SEARCHED)
    for share in (0.05, 0.25, 0.5, 0.75, 0.95):
        exact_mm = thresholds_mm[int(np.searchsorted(rises, share))]
        assert belief.quantiles_mm(np.array([share]))[0] == pytest.approx(exact_mm, abs=0.02)


def test_a_misled_search_comes_back_to_where_the_plain_grid_is() -> None:
    # One false reading at the first step, then everything speaks for the other half.
    taken = [Reading(120.0, False), Reading(110.0, True), Reading(115.0, True), Reading(118.0, True)]
    taken += [Reading(119.5, True)] * 3 + [Reading(124.0, True)] * 2
    taken += [Reading(130.0, False), Reading(127.0, False), Reading(125.0, True), Reading(126.0, False)]
    thresholds_mm, shares = plain_grid(MODEL, taken)
    exact_mm = thresholds_mm[int(np.searchsorted(np.cumsum(shares), 0.5))]
    assert believed(MODEL, taken).quantiles_mm(np.array([0.5]))[0] == pytest.approx(exact_mm, abs=0.1)


@given(readings)
@settings(max_examples=examples(40))
def test_probabilities_are_probabilities(taken: list[Reading]) -> None:
    belief = believed(MODEL, taken)
    assert belief.mass.sum() == pytest.approx(1.0)
    assert belief.mass.min() >= 0
    quantiles = belief.quantiles_mm(np.linspace(0.01, 0.99, 50))
    assert (quantiles[1:] >= quantiles[:-1]).all()


@given(readings)
@settings(max_examples=examples(40))
def test_a_mirrored_edge_is_found_at_the_mirrored_place(taken: list[Reading]) -> None:
    mirrored = replace(MODEL, low_mm=-MODEL.high_mm, high_mm=-MODEL.low_mm, rising=True)
    here = believed(MODEL, taken)
    there = believed(mirrored, [Reading(-one.position_mm, one.switched) for one in taken])
    shares = np.array([0.2, 0.5, 0.8])
    assert there.quantiles_mm(1 - shares) == pytest.approx(-here.quantiles_mm(shares), abs=0.5)
    assert there.outside == pytest.approx(here.outside[::-1], abs=0.02)


@given(readings)
@settings(max_examples=examples(40))
def test_the_order_of_readings_hardly_matters(taken: list[Reading]) -> None:
    forth, back = believed(MODEL, taken), believed(MODEL, taken[::-1])
    assert forth.outside == pytest.approx(back.outside, abs=0.03)
    places_mm = np.linspace(102, 138, 10)
    assert forth.gains_bit(places_mm) == pytest.approx(back.gains_bit(places_mm), abs=0.03)


def test_no_reading_changes_a_belief_that_was_handed_on() -> None:
    before = Posterior.start(MODEL)
    mass = before.mass.copy()
    before.after(Reading(120.0, True))
    assert (before.mass == mass).all()
    with pytest.raises(ValueError, match="read-only"):
        before.mass[0, 0] = 1.0


def test_a_repeated_answer_at_one_end_speaks_for_an_edge_outside() -> None:
    belief = believed(MODEL, [Reading(140.0, True)] * 6)
    assert belief.outside[1] > 0.9
    assert belief.estimate().half_width_mm == math.inf


def test_readings_on_either_side_of_a_wide_scatter_tell_the_spread() -> None:
    wild = [
        Reading(120.0 + shift, bool(turn % 2)) for turn, shift in enumerate((-1, -0.5, 0, 0.5, 1, -1, 1, 0))
    ]
    tame = [Reading(120.0 + shift, shift < 0) for shift in (-1, -0.5, -0.2, 0.2, 0.5, 1, -0.1, 0.1)]
    assert believed(MODEL, wild).spread().sd_mm > 1.5 * believed(MODEL, tame).spread().sd_mm


def test_a_unit_that_switches_early_has_its_edge_further_in() -> None:
    early = replace(MODEL, spreads=(Spread(0.3, early_mm=0.5),))
    level = replace(MODEL, spreads=(Spread(0.3),))
    found = [believed(model, SEARCHED).estimate().position_mm for model in (early, level)]
    assert found[1] - found[0] == pytest.approx(0.5, abs=0.03)


def test_gain_is_what_the_readings_would_change_the_entropy_by() -> None:
    # Independent: entropy of the threshold now, less its mean over both answers, on the belief's own cells.
    belief = believed(replace(MODEL, outside_share=1e-9), SEARCHED[:5])

    def entropy_bit(mass) -> float:
        cells = mass.sum(axis=1)
        cells = cells[cells > 0]
        return float(-(cells * np.log2(cells)).sum())

    for place_mm in (121.0, 121.8, 122.5, 130.0):
        chances = belief.model.switched_chance(np.array([place_mm]), _thresholds_mm(belief))
        switched = belief.mass * chances
        unswitched = belief.mass - switched
        expected = sum(
            part.sum() * entropy_bit(part / part.sum()) for part in (switched, unswitched) if part.sum() > 0
        )
        assert belief.gains_bit([place_mm])[0] == pytest.approx(entropy_bit(belief.mass) - expected, abs=1e-6)


def _thresholds_mm(belief: Posterior):
    middles = (belief.edges_mm[:-1] + belief.edges_mm[1:]) / 2
    return np.concatenate(([-np.inf], middles, [np.inf]))


def test_the_normal_law_is_good_enough() -> None:
    norm = pytest.importorskip("scipy.stats", reason="comparison skipped: scipy has no wheel here").norm
    model = EdgeModel(0.0, 1.0, rising=True, spreads=(Spread(1.0),), false_share=0.01)
    places_mm = np.linspace(-6, 6, 2001)
    chances = (model.switched_chance(places_mm, np.zeros(1))[:, 0] - 0.01) / 0.98
    assert np.abs(chances - norm.cdf(places_mm)).max() < 2e-4


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"low_mm": 140.0}, "allowed: rising"),
        ({"high_mm": math.inf}, "finite"),
        ({"spreads": ()}, "one or more"),
        ({"false_share": 0.0}, "between 0 and 0.5"),
        ({"false_share": 0.5}, "between 0 and 0.5"),
        ({"outside_share": 0.0}, "between 0 and 1"),
    ],
)
def test_models_that_mean_nothing_are_refused(change: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        replace(MODEL, **change)


@pytest.mark.parametrize("change", [{"sd_mm": 0.0}, {"early_mm": -0.1}, {"weight": 0.0}, {"sd_mm": math.nan}])
def test_spreads_that_mean_nothing_are_refused(change: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="allowed"):
        replace(Spread(1.0), **change)
