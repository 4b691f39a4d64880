"""Edges and response times from passes at constant speed."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from statistics import stdev

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.edges.sweep import (
    START_LATEST_S,
    Lag,
    Pass,
    sweep_standard_uncertainty_mm,
    swept_edge,
    swept_response,
)

START_S = START_LATEST_S / 2


def passing(
    edge_mm: float, *, inwards: bool, speed_mm_s: float, late_s: float, start_s: float = START_S
) -> Pass:
    """A pass as physics makes it: the move starts late, and the output is late again."""
    start_mm, end_mm = (350.0, 250.0) if inwards else (250.0, 350.0)
    at_edge_s = start_s + abs(edge_mm - start_mm) / speed_mm_s
    return Pass(start_mm, end_mm, speed_mm_s, 100.0, 100.0 + at_edge_s + late_s)


@given(
    edge_mm=st.floats(270, 330),
    inwards=st.booleans(),
    speed_mm_s=st.floats(5, 1000),
    late_s=st.floats(0, 0.015),
)
def test_what_is_late_is_taken_off_in_either_direction(
    edge_mm: float, inwards: bool, speed_mm_s: float, late_s: float
) -> None:
    one = passing(edge_mm, inwards=inwards, speed_mm_s=speed_mm_s, late_s=late_s)
    assert one.place_mm(late_s + START_S) == pytest.approx(edge_mm, abs=1e-6)
    assert one.lag_s(edge_mm) - START_S == pytest.approx(late_s, abs=1e-9)


def test_uncorrected_the_two_directions_lie_apart_by_twice_the_way_of_the_lag() -> None:
    places = [
        passing(300.0, inwards=way, speed_mm_s=50.0, late_s=0.04, start_s=0.0).place_mm(0.0)
        for way in (True, False)
    ]
    assert places == pytest.approx([300 - 50 * 0.04, 300 + 50 * 0.04])


def test_the_edge_is_the_mean_of_the_passes_with_its_budget() -> None:
    passes = [
        passing(300.0, inwards=True, speed_mm_s=20.0, late_s=late_s) for late_s in (0.03, 0.05, 0.04, 0.06)
    ]
    swept = swept_edge(passes, Lag(0.045, 0.02))
    assert swept.mean == pytest.approx(300.0)
    rows = {row.name: row for row in swept.components}
    assert rows["scatter of the passes"].contribution == pytest.approx(stdev(swept.values) / 2)
    assert rows["scatter of the passes"].degrees_of_freedom == 3
    assert rows["response time"].contribution == pytest.approx(20 * 0.02 / math.sqrt(3))
    assert rows["start of the move"].contribution == pytest.approx(20 * START_S / math.sqrt(3))


def test_the_response_time_has_the_doubt_of_the_edge_in_it() -> None:
    passes = [passing(300.0, inwards=False, speed_mm_s=500.0, late_s=late_s) for late_s in (0.03, 0.05)]
    swept = swept_response(passes, 300.0, edge_u_mm=0.25)
    assert swept.mean == pytest.approx(0.04)
    rows = {row.name: row.contribution for row in swept.components}
    assert rows["place of the edge"] == pytest.approx(0.25 / 500)
    assert rows["start of the move"] == pytest.approx(START_S / math.sqrt(3))


def test_the_stated_uncertainty_holds_the_edge() -> None:
    draw = random.Random(7)
    lag = Lag.by_data_sheet(0.05)
    inside = 0
    for _ in range(300):
        # One unit has one typical response time, one controller one typical start; passes scatter around them.
        typical_s, start_s = draw.uniform(0, 2 * lag.middle_s), draw.uniform(0, START_LATEST_S)
        passes = [
            passing(
                300.0,
                inwards=True,
                speed_mm_s=20.0,
                late_s=abs(draw.gauss(typical_s, 0.004)),
                start_s=start_s,
            )
            for _ in range(5)
        ]
        swept = swept_edge(passes, lag)
        u_mm = math.hypot(*(row.contribution for row in swept.components))
        inside += abs(swept.mean - 300.0) <= 1.96 * u_mm
    assert inside >= 0.95 * 300


def test_the_faster_the_less_a_sweep_can_tell() -> None:
    assert sweep_standard_uncertainty_mm(1000.0, 0.05) == pytest.approx(
        1000 * math.hypot(0.0375, 0.005) / math.sqrt(3)
    )


def test_one_pass_is_no_measurement() -> None:
    one = passing(300.0, inwards=True, speed_mm_s=20.0, late_s=0.04)
    with pytest.raises(ValueError, match="two or more"):
        swept_edge([one], Lag.up_to(0.05))


@pytest.mark.parametrize("change", [{"edge_s": 99.0}, {"end_mm": 350.0}, {"speed_mm_s": 0.0}])
def test_passes_that_cannot_be_are_refused(change: dict[str, float]) -> None:
    one = passing(300.0, inwards=True, speed_mm_s=20.0, late_s=0.04)
    with pytest.raises(ValueError, match=r"pass|before"):
        replace(one, **change)


def test_the_place_never_lies_beyond_the_ends_of_the_way() -> None:
    late = Pass(350.0, 250.0, 1000.0, 0.0, 5.0)
    assert late.place_mm(0.0) == 250.0
    assert late.place_mm(6.0) == 350.0
