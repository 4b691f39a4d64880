"""Which edges a setting has, and what is refused before anything moves."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rig.edges.edge import Method
from rig.edges.task import EdgeTask, NoDrive, TooFine, edge_tasks
from rig.statistics.edge_checks import DetectedSide
from tests.rig.measuring.units import point_of, window_of
from tests.rig.planned import BY_HAND, STAGE, Job, job, rig_with


def tasks_of(made: Job, wanted_mm: float = 0.5) -> tuple[EdgeTask, ...]:
    return edge_tasks(made.setting, made.sensor_type, STAGE.target, wanted_mm=wanted_mm)


def test_a_single_point_has_one_edge_and_detects_nearer() -> None:
    (task,) = tasks_of(point_of(300.0))
    assert task.side is DetectedSide.NEARER
    assert task.low_mm == task.inside_mm == pytest.approx(180.0)  # half-way from blind zone to set point
    assert task.high_mm == pytest.approx(1200.0)
    assert task.expected_mm == 300.0


def test_a_window_has_two_edges_with_the_zone_between() -> None:
    outer, inner = tasks_of(window_of(200.0, 400.0))
    assert (outer.side, inner.side) == (DetectedSide.NEARER, DetectedSide.FARTHER)
    assert outer.inside_mm == inner.inside_mm == pytest.approx(300.0)
    assert (inner.low_mm, inner.high_mm) == pytest.approx((60.0, 300.0))
    assert (outer.outward, inner.outward) == (1, -1)
    assert (outer.outside_mm, inner.outside_mm) == pytest.approx((1200.0, 60.0))


def test_a_full_range_has_the_end_of_its_range_for_an_edge() -> None:
    (task,) = tasks_of(job("barrel-18-rail", "full-range"), wanted_mm=1.5)
    assert task.expected_mm == 800.0
    assert task.low_mm < 800 < task.high_mm


def test_noise_is_what_repeat_accuracy_and_hysteresis_leave_possible() -> None:
    near, far = (tasks_of(point_of(at_mm), 1.5)[0].noise_mm for at_mm in (100.0, 700.0))
    assert near == pytest.approx((0.2 / 3, 0.4))  # a tenth of 2 mm hysteresis
    assert far == pytest.approx((0.7 / 3, 1.4))  # a fifth of 0.5 % of 700 mm


def test_finer_than_the_bench_is_refused_with_the_finest_possible() -> None:
    with pytest.raises(TooFine, match=r"0\.1 mm is finer .* allowed: 0\.\d+ mm or more") as refused:
        tasks_of(point_of(300.0), wanted_mm=0.1)
    assert tasks_of(point_of(300.0), wanted_mm=refused.value.smallest_mm * 1.001)
    with pytest.raises(TooFine):
        tasks_of(point_of(300.0), wanted_mm=refused.value.smallest_mm * 0.999)


def test_a_target_moved_by_hand_measures_nothing() -> None:
    (task,) = tasks_of(point_of(300.0))
    with pytest.raises(NoDrive, match="moved by hand"):
        task.method_on(BY_HAND.target)


@pytest.mark.parametrize(
    ("speed_mm_s", "wanted_mm", "method"),
    [
        (1000.0, 0.5, Method.STEPS),
        (20.0, 0.5, Method.STEPS),
        (20.0, 2.0, Method.SWEEP),
        (5.0, 0.6, Method.SWEEP),
    ],
)
def test_a_sweep_is_taken_where_it_is_slow_enough(
    speed_mm_s: float, wanted_mm: float, method: Method
) -> None:
    (task,) = tasks_of(point_of(300.0), wanted_mm)
    assert task.method_on(rig_with(speed_mm_s=speed_mm_s).target) is method
    other = next(one for one in Method if one is not method)
    assert replace(task, method=other).method_on(rig_with(speed_mm_s=speed_mm_s).target) is other


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"low_mm": 1200.0}, "rising"),
        ({"approaches": 2}, "none, or 3 and more"),
        ({"approaches": -2}, "none, or 3 and more"),
    ],
)
def test_tasks_that_cannot_be_are_refused(change: dict[str, float], words: str) -> None:
    (task,) = tasks_of(point_of(300.0))
    with pytest.raises(ValueError, match=words):
        replace(task, **change)
