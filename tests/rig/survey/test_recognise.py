"""What a unit is set to, from drives and edges alone: the clear cases, and those that nobody can tell."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.sequencer.output_type import Drive
from rig.survey.bounds import Bounds, bounds_of
from rig.survey.recognise import Edge, Evidence, Recognised, Switching, recognise, switching_of
from tests.rig.planned import STAGE, TYPES, feasible_jobs, guard_at_mm, rig_with
from tests.rig.planned import Job as PlannedJob
from wiring.profile import RigProfile
from wiring.terms import DetectionMode, OutputFunction, OutputType

PNP_NO = Switching(OutputType.PNP, OutputFunction.NO)


def told(
    near: Edge | None,
    far: Edge | None,
    switching: Switching = PNP_NO,
    *,
    type_name: str = "barrel-18-rail",
    rig: RigProfile = STAGE,
) -> Recognised:
    sensor_type = TYPES[type_name]
    return recognise(Evidence(switching, near, far), bounds_of(sensor_type, rig), sensor_type)


@pytest.mark.parametrize(
    ("clear", "inside", "expected"),
    [
        (Drive.FOLLOWS, Drive.HOLDS_PLUS, (OutputType.PNP, OutputFunction.NO)),
        (Drive.HOLDS_PLUS, Drive.FOLLOWS, (OutputType.PNP, OutputFunction.NC)),
        (Drive.FOLLOWS, Drive.HOLDS_MINUS, (OutputType.NPN, OutputFunction.NO)),
        (Drive.HOLDS_MINUS, Drive.FOLLOWS, (OutputType.NPN, OutputFunction.NC)),
        (Drive.HOLDS_MINUS, Drive.HOLDS_PLUS, (OutputType.PUSH_PULL, OutputFunction.NO)),
        (Drive.HOLDS_PLUS, Drive.HOLDS_MINUS, (OutputType.PUSH_PULL, OutputFunction.NC)),
    ],
)
def test_each_output_is_told_from_its_drive_in_either_state(
    clear: Drive, inside: Drive, expected: tuple[OutputType, OutputFunction]
) -> None:
    assert switching_of(clear, inside) == Switching(*expected)


@pytest.mark.parametrize("clear", Drive)
def test_an_output_that_does_not_change_or_is_unclear_says_nothing(clear: Drive) -> None:
    assert switching_of(clear, clear) is None
    assert switching_of(clear, Drive.UNCLEAR) is None


@pytest.mark.parametrize(
    ("near", "far", "mode"),
    [
        (None, Edge(400.0, 0.5), DetectionMode.SINGLE_POINT),
        (None, Edge(64.0, 0.3), DetectionMode.SINGLE_POINT),
        (None, Edge(795.0, 0.9), DetectionMode.SINGLE_POINT),
        (None, Edge(800.0, 0.9), DetectionMode.FULL_RANGE),
        (None, Edge(860.0, 0.9), DetectionMode.FULL_RANGE),
        (Edge(150.0, 0.3), Edge(450.0, 0.5), DetectionMode.WINDOW),
        (Edge(64.0, 0.3), Edge(85.0, 0.3), DetectionMode.WINDOW),
    ],
)
def test_clear_cases_are_told(near: Edge | None, far: Edge, mode: DetectionMode) -> None:
    assert told(near, far) == Recognised(mode, ())


@pytest.mark.parametrize(
    ("near", "far", "said"),
    [
        (None, Edge(797.2, 0.9), "a set point, or full range"),
        (Edge(62.1, 0.3), Edge(450.0, 0.5), "longer blind zone than its type"),
        (None, Edge(1000.0, 1.0), "another type?"),
        (None, None, "another type?"),
        (Edge(150.0, 0.3), Edge(800.0, 0.9), "set there, or farther out"),
    ],
)
def test_what_cannot_be_told_is_said_and_not_guessed(near: Edge | None, far: Edge | None, said: str) -> None:
    doubts = told(near, far).doubts
    assert len(doubts) == 1
    assert said in doubts[0]


def test_where_the_target_does_not_reach_the_ends_of_the_range_modes_cannot_be_told() -> None:
    short = rig_with(farthest_mm=600.0)
    assert "as far as it reaches" in told(None, None, rig=short).doubts[0]
    assert told(None, Edge(400.0, 0.5), rig=short) == Recognised(DetectionMode.SINGLE_POINT, ())
    far_off = rig_with(nearest_mm=90.0)
    assert "a window may begin nearer" in told(None, Edge(400.0, 0.5), rig=far_off).doubts[0]
    window = told(Edge(150.0, 0.3), Edge(400.0, 0.5), rig=far_off)
    assert window == Recognised(DetectionMode.WINDOW, ())


def test_a_plate_too_small_to_be_heard_there_sets_no_point() -> None:
    small = rig_with(side_mm=4.0)
    assert "too small to be heard" in told(None, Edge(700.0, 0.5), rig=small).doubts[0]
    assert told(None, Edge(100.0, 0.3), rig=small).mode is DetectionMode.SINGLE_POINT


def test_what_no_unit_of_the_type_could_show_names_the_type() -> None:
    npn_on_block = told(
        None, Edge(400.0, 1.0), Switching(OutputType.NPN, OutputFunction.NO), type_name="block-rail"
    )
    assert "output is NPN, block-rail has push-pull: another type?" in npn_on_block.doubts
    inverse = told(None, Edge(800.0, 0.9), Switching(OutputType.PNP, OutputFunction.NC))
    assert "cannot be set to full-range NC" in inverse.doubts[0]
    slow = told(None, Edge(400.0, 0.5, response_s=0.08, response_u_s=0.01))
    assert "answers after 80 ms" in slow.doubts[0]
    assert told(None, Edge(400.0, 0.5, response_s=0.06, response_u_s=0.02)).doubts == ()


def edges_of(made: PlannedJob) -> tuple[Edge | None, Edge]:
    points_mm = list(made.setting.set_points_mm.values())
    edges = [Edge(at_mm, guard_at_mm(made.sensor_type, made.rig, at_mm) / 2) for at_mm in points_mm]
    end_mm = made.sensor_type.sensing.range_mm
    far = edges[-1] if edges else Edge(end_mm, guard_at_mm(made.sensor_type, made.rig, end_mm) / 2)
    return (edges[0] if len(edges) > 1 else None), far


@given(made=feasible_jobs(), shares=st.tuples(st.floats(-1, 1), st.floats(-1, 1)))
def test_whatever_can_be_planned_is_told_apart(made: PlannedJob, shares: tuple[float, float]) -> None:
    """With each edge off by up to its uncertainty, half the guard that planning keeps."""
    bounds = bounds_of(made.sensor_type, STAGE)
    near, far = edges_of(made)
    if made.mode is not DetectionMode.FULL_RANGE:
        far = replace(far, at_mm=far.at_mm + shares[1] * far.u_mm)
    if near is not None:
        near = replace(near, at_mm=near.at_mm + shares[0] * near.u_mm)
    assert made.setting.output_function is not None
    switching = Switching(made.setting.output_type, made.setting.output_function)
    assert recognise(Evidence(switching, near, far), bounds, made.sensor_type) == Recognised(made.mode, ())


@pytest.mark.parametrize(("type_name", "reach"), list(product(TYPES, (0.7, 1.5))))
def test_no_window_of_the_type_lies_between_two_positions_of_the_search(type_name: str, reach: float) -> None:
    sensing = TYPES[type_name].sensing
    bounds = bounds_of(TYPES[type_name], rig_with(farthest_mm=reach * sensing.range_mm))
    positions_mm = list(bounds.search_positions_mm())
    assert positions_mm[0] == bounds.first_mm
    steps_mm = [after - before for before, after in pairwise(positions_mm)]
    # Whatever lies between two steps leaves the first position in it well before its far end.
    assert max(steps_mm) + bounds.step_mm / 2 < sensing.smallest_window_mm
    assert positions_mm[-1] + bounds.step_mm > min(sensing.range_mm, bounds.last_mm)


def test_a_target_that_does_not_reach_into_the_range_is_refused() -> None:
    with pytest.raises(ValueError, match="60 to 800 mm"):
        bounds_of(TYPES["barrel-18-rail"], rig_with(farthest_mm=65.0))


def test_bounds_follow_the_air_of_the_bench() -> None:
    def ends_of(temperature_c: float) -> Bounds:
        air = STAGE.air.model_copy(update={"temperature_c": temperature_c})
        return bounds_of(TYPES["barrel-18-plain"], STAGE.model_copy(update={"air": air}))

    cold, warm = ends_of(5.0), ends_of(40.0)
    # The speed of sound rises by 6 % from 5 to 40 degrees C (Cramer 1993); a time of flight reaches as much farther.
    assert warm.range_near_mm / cold.range_near_mm == pytest.approx(1.063, abs=0.005)
