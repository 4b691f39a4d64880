"""Which position is read next, and when a search ends; and what it takes beside other ways of searching."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest

from rig.edges.posterior import EdgeModel, Posterior, Reading, Spread
from rig.edges.search import Ending, Pace, Rules, Step, Stop, next_step, restless
from tests.benchmarks.edge_search import compare
from tests.benchmarks.edges import information_bound

MODEL = EdgeModel(100.0, 600.0, rising=False, spreads=(Spread(0.2), Spread(0.4)))
RULES = Rules(0.5, Pace(1000.0, 1.0), 0.1)


def searched(
    edge_mm: float, rules: Rules = RULES, *, seed: int = 0, sd_mm: float = 0.2
) -> tuple[Posterior, Stop]:
    draw = random.Random(seed)
    belief, here_mm = Posterior.start(MODEL), 350.0
    while True:
        step = next_step(belief, rules, here_mm)
        if isinstance(step, Stop):
            return belief, step
        here_mm = step.position_mm
        belief = belief.after(Reading(here_mm, here_mm < draw.gauss(edge_mm, sd_mm)))


def test_without_any_knowledge_the_middle_is_read_first() -> None:
    step = next_step(Posterior.start(MODEL), RULES, 350.0)
    assert isinstance(step, Step)
    assert step.position_mm == pytest.approx(350.0, abs=20)
    # All that a reading with 2 % false ones can carry: 1 - H2(0.02).
    assert step.gain_bit == pytest.approx(0.8586, abs=0.003)


def test_a_slow_stage_takes_the_nearer_of_two_positions_that_tell_much() -> None:
    slow = replace(RULES, pace=Pace(10.0, 1.0))
    step = next_step(Posterior.start(MODEL), slow, 120.0)
    assert isinstance(step, Step)
    assert step.position_mm < 250
    assert step.seconds == pytest.approx(1 + abs(step.position_mm - 120) / 10)


def test_positions_are_steps_of_the_stage_within_the_interval() -> None:
    rules = replace(RULES, step_mm=7.0)
    for edge_mm in (101.0, 333.0, 599.0):
        belief, _ = searched(edge_mm, replace(rules, wanted_mm=5.0))
        for reading in belief.readings:
            assert 100 <= reading.position_mm <= 600
            assert reading.position_mm / 7 == pytest.approx(round(reading.position_mm / 7))


@pytest.mark.parametrize("rising", [False, True])
def test_a_unit_that_switches_early_is_read_where_its_output_is_in_doubt(rising: bool) -> None:
    model = replace(MODEL, rising=rising, spreads=(Spread(0.2, early_mm=20.0),))
    belief = Posterior.start(model)
    for shift_mm in 3 * (-5.0, -1.0, 1.0, 5.0):
        belief = belief.after(Reading(300 + shift_mm, (shift_mm > 0) is rising))
    step = next_step(belief, RULES, 300.0)
    assert isinstance(step, Step)
    assert step.position_mm == pytest.approx(300, abs=1)
    # The edge itself lies 20 mm further on the way.
    assert belief.estimate().position_mm == pytest.approx(320 if rising else 280, abs=1.5)


@pytest.mark.parametrize("edge_mm", [100.4, 237.0, 599.7])
def test_an_edge_is_found_to_the_wanted_uncertainty(edge_mm: float) -> None:
    _, stop = searched(edge_mm)
    assert stop.ending is Ending.FOUND
    assert stop.estimate.half_width_mm <= RULES.wanted_mm
    assert abs(stop.estimate.position_mm - edge_mm) <= stop.estimate.half_width_mm


@pytest.mark.parametrize(("edge_mm", "ending"), [(50.0, Ending.BELOW), (700.0, Ending.ABOVE)])
def test_an_edge_that_is_not_there_is_said_to_be_beyond(edge_mm: float, ending: Ending) -> None:
    belief, stop = searched(edge_mm)
    assert stop.ending is ending
    assert len(belief.readings) < 16


def test_a_search_that_gets_nowhere_ends() -> None:
    belief, stop = searched(300.0, replace(RULES, wanted_mm=0.01, most_readings=25))
    assert stop.ending is Ending.SPENT
    assert len(belief.readings) == 25


def test_a_unit_that_moves_its_edge_meanwhile_is_restless_and_one_that_keeps_it_is_not() -> None:
    def readings(edges_mm: list[float]) -> Posterior:
        belief = Posterior.start(MODEL)
        for edge_mm in edges_mm:
            for shift_mm in (-20, -5, -2, 2, 5, 20):
                belief = belief.after(Reading(350 + shift_mm, 350 + shift_mm < edge_mm))
        return belief

    assert restless(readings([350.0] * 3 + [380.0] * 3))
    assert not restless(readings([350.0] * 6))


def test_two_false_readings_make_no_unit_restless() -> None:
    belief, _ = searched(350.0)
    for _ in range(2):
        belief = belief.after(Reading(200.0, switched=False))
    assert not restless(belief)


def test_ways_over_a_seat_take_their_time_and_leaving_the_beam_may_be_quicker() -> None:
    pace = Pace(speed_mm_s=100.0, reading_s=1.0, seat_mm=500.0, swing_s=0.8)
    near, far = pace.seconds(480.0, np.array([490.0, 700.0]))
    assert near == pytest.approx(1 + 0.2 + 0.1)
    assert not pace.swings(480.0, 490.0)
    assert far == pytest.approx(1 + 0.2 + 2.0)
    assert not pace.swings(480.0, 700.0)
    (back,) = pace.seconds(400.0, np.array([380.0]))
    assert back == pytest.approx(1 + 0.8 + 0.2)  # 1.0 + 1.2 by the seat
    assert pace.swings(400.0, 380.0)


def test_it_takes_few_readings_beside_the_least_possible_and_beside_a_vote() -> None:
    """The same comparison over 1000 edges, with more rivals: `python -m tests.benchmarks.edge_search`."""
    search = compare("step search", 200)
    vote = compare("bisection, best of 3", 200)
    assert search.readings <= 1.5 * information_bound()
    assert search.readings < 0.85 * vote.readings
    assert 0.93 <= search.covered <= 0.97
    assert np.median(search.choosing_s) < 0.002


def test_a_wanted_uncertainty_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="more than 0"):
        replace(RULES, wanted_mm=0.0)
