"""What an order and a data sheet require, as figures with limits on the bench."""

from __future__ import annotations

import pytest

from rig.deciding.requirement import Figure, Requirement, requirements_of
from rig.edges.edge import Edge
from tests.rig.planned import Job, job


def required(made: Job, scale: float = 1.0) -> dict[str, Requirement]:
    sensor_type = made.sensor_type
    found = requirements_of(made.setting, sensor_type, sensor_type.sensing, scale=scale)
    return {one.name: one for one in found}


def span(requirement: Requirement) -> tuple[float | None, float | None]:
    return requirement.low, requirement.high


def test_a_single_point() -> None:
    asked = required(job("barrel-18-rail", at_mm=400, tolerance_mm=8))
    assert span(asked["operate point, outer"]) == (392, 408)
    # 3 % of the farthest operate point may lie beyond it.
    assert asked["release point, outer"].high == pytest.approx(408 * 1.03)
    assert asked["differential travel, outer"].high == pytest.approx(12)
    assert asked["repeat accuracy, outer"].high == pytest.approx(2)
    assert span(asked["response time on, outer"]) == (None, 0.05)
    assert span(asked["supply current"]) == (0.010, 0.050)
    assert span(asked["time delay before availability"]) == (None, 0.3)
    assert asked["operate point, blind"].high == pytest.approx(62)
    assert asked["output function"].low is None
    assert "operate point, inner" not in asked


def test_a_window_has_two_edges_and_no_end_at_the_blind_zone() -> None:
    asked = required(job("barrel-18-rail", "window", near_mm=200, far_mm=500, tolerance_mm=8))
    assert span(asked["operate point, outer"]) == (492, 508)
    assert span(asked["operate point, inner"]) == (192, 208)
    assert asked["release point, inner"].low == pytest.approx(192 * 0.97)
    assert "operate point, blind" not in asked


def test_full_range_must_reach_its_end_but_may_reach_further() -> None:
    asked = required(job("barrel-18-rail", "full-range"))
    assert span(asked["operate point, outer"]) == (pytest.approx(760), None)
    assert "release point, outer" not in asked


def test_limits_lie_where_the_bench_is() -> None:
    asked = required(job("barrel-12-count", at_mm=200, tolerance_mm=5), scale=1.02)
    assert span(asked["operate point, outer"]) == (pytest.approx(1.02 * 195), pytest.approx(1.02 * 205))


def test_a_short_distance_leaves_a_unit_half_its_usual_travel_to_scatter() -> None:
    asked = required(job("barrel-18-rail", at_mm=100, tolerance_mm=8))
    assert asked["repeat accuracy, outer"].high == pytest.approx(1.0)


def test_every_requirement_has_a_name_of_its_own() -> None:
    made = job("barrel-18-rail", "window", near_mm=200, far_mm=500, tolerance_mm=8)
    found = requirements_of(made.setting, made.sensor_type, made.sensor_type.sensing)
    assert len({one.name for one in found}) == len(found)
    assert {one.figure for one in found if one.edge is Edge.OUTER} >= {Figure.OPERATE, Figure.TRAVEL}
    assert {one.figure for one in found if one.edge is None} == {
        Figure.OUTPUT,
        Figure.CURRENT,
        Figure.AVAILABILITY,
    }
