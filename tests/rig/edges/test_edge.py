"""The figures of a measured edge and their budgets."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest

from rig.edges.edge import (
    Method,
    RepeatAccuracy,
    bench_components,
    differential_travel,
    finding,
    measured_point,
)
from rig.edges.sweep import Lag, Pass, swept_edge
from tests.rig.planned import STAGE

TARGET = STAGE.target  # zero 0.2 mm, scale 0.05 %, step 0.1 mm, tilt 1 degree


def test_the_bench_adds_zero_scale_step_and_tilt_and_nothing_twice() -> None:
    rows = {row.name: row.contribution for row in bench_components(TARGET, 400.0)}
    assert rows == pytest.approx(
        {
            "zero of the scale": 0.2 / math.sqrt(3),
            "scale of the target": 0.2 / math.sqrt(3),
            "step of the target": 0.1 / math.sqrt(12),
            "tilt of the target's way": 400 * (1 - math.cos(math.radians(1))) / math.sqrt(3),
        }
    )


def test_a_point_is_as_uncertain_as_its_finding_and_the_bench_together() -> None:
    point = measured_point(400.0, (finding(0.4),), TARGET)
    bench = [row.contribution for row in bench_components(TARGET, 400.0)]
    assert point.expanded == pytest.approx(1.959964 * math.hypot(0.4 / 1.959964, *bench), rel=1e-6)


def test_zero_and_tilt_drop_out_of_the_differential_travel() -> None:
    operate, release = (measured_point(at, (finding(0.3),), TARGET) for at in (400.0, 404.0))
    travel = differential_travel(operate, release, TARGET)
    assert travel.value == pytest.approx(4.0)
    u = 0.3 / 1.959964
    exact = math.hypot(u, u, 0.0005 * 4 / math.sqrt(3), math.sqrt(2) * 0.1 / math.sqrt(12))
    assert travel.expanded == pytest.approx(1.959964 * exact, rel=1e-6)


def test_what_switches_both_points_early_counts_twice_in_the_travel() -> None:
    # Each finding of 0.2 standard uncertainty is all of one cause, which moves the points towards each other.
    operate, release = (measured_point(at, (finding(0.2 * 1.959964),), TARGET) for at in (400.0, 404.0))
    travel = differential_travel(operate, release, TARGET, early_doubt_mm=0.2)
    steps = math.sqrt(2) * 0.1 / math.sqrt(12)
    exact = math.hypot(0.2 + 0.2, steps, 0.0005 * 4 / math.sqrt(3))
    assert travel.expanded == pytest.approx(1.959964 * exact, rel=1e-6)


def test_a_response_time_not_known_moves_swept_points_apart() -> None:
    lag = Lag(0.04, 0.04)
    inwards = swept_edge([Pass(350, 250, 20.0, 0.0, 2.5 + late) for late in (0.04, 0.041)], lag)
    outwards = swept_edge([Pass(250, 350, 20.0, 0.0, 2.6 + late) for late in (0.04, 0.041)], lag)
    points = [measured_point(swept.mean, swept.components, TARGET) for swept in (inwards, outwards)]
    rows = {row.name: row.contribution for row in differential_travel(*points, TARGET).budget.components}
    assert rows["response time"] == pytest.approx(2 * 20 * 0.04 / math.sqrt(3))


def test_repeat_accuracy_is_the_largest_less_the_smallest_operate_point() -> None:
    repeat = RepeatAccuracy((300.1, 299.9, 300.4), Method.STEPS)
    assert repeat.range_mm == pytest.approx(0.5)


@pytest.mark.parametrize("module", ["edges.edge", "edges.sweep", "edges.task", "measuring.trouble"])
def test_what_is_told_of_an_edge_can_be_read_without_numpy(module: str) -> None:
    program = f"import rig.{module}, sys; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", program], check=False, timeout=60).returncode == 0
