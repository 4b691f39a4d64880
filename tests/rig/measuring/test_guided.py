"""Edges found by a person who slides the target, over pins, screen and serial line, against the truth behind them."""

from __future__ import annotations

import math
import random
from contextlib import suppress
from itertools import pairwise
from typing import Any, Literal

import pytest

from hal.simulated.clock import NS
from rig.edges.edge import EdgeResult, Method
from rig.edges.finest import finest_mm
from rig.edges.task import TooFine, tasks_for
from rig.events import EdgeSlid, TargetMoved
from rig.measuring.trouble import NotMeasured
from tests.rig.measuring.by_hand import GAUGE, SCALE, SLOTS, by_hand, measure, tasks_of
from tests.rig.measuring.units import OnBench, misses, point_of, run, window_of
from tests.rig.planned import Job
from wiring.profile import RigProfile

Edge = Literal["far", "near"]


def measured(
    made: Job, rig: RigProfile = GAUGE, edge: Edge = "far", *, wanted_mm: float = 5.0, **how: Any
) -> tuple[EdgeResult, OnBench]:
    async def one() -> tuple[EdgeResult, OnBench]:
        async with by_hand(made, rig=rig, **how) as there:
            return await measure(there, tasks_of(there, wanted_mm)[("far", "near").index(edge)]), there

    return run(one)


def slides(there: OnBench) -> list[EdgeSlid]:
    return [one.event for one in there.events if isinstance(one.event, EdgeSlid)]


EDGES: list[tuple[Job, Edge]] = [
    (point_of(400.0), "far"),
    (point_of(600.0, function="NC"), "far"),
    (point_of(180.0, "barrel-12-count"), "far"),
    (window_of(200.0, 400.0), "near"),
]
"""Edges of several kinds of units; a window has one to either side."""


def truth(seed: int, rig: RigProfile) -> dict[str, Any]:
    """A bench wrong by anything that its profile allows, and a person likewise."""
    draw, target, hand = random.Random(seed), rig.target, rig.target.by_hand
    either = lambda limit: draw.uniform(-limit, limit)  # noqa: E731 - reads best here
    zero_mm = either(target.zero_error_mm)
    person = {
        "slide_mm_s": draw.uniform(0.4, 0.8) * hand.slide_mm_s,
        "unevenness": 0.4,
        "hesitation": 0.08,
        "reaction_s": draw.uniform(0.43, 1.54),
        "stop_s": draw.uniform(hand.stop_least_s, hand.stop_most_s),
        "reading_mm": hand.reading_mm / 3,
    }
    if target.gauge is None:
        # An eye that reads to one side is a scale that is shifted.
        scale = {
            "zero_mm": zero_mm + either(hand.reading_mm),
            "scale_percent": either(target.scale_error_percent),
        }
        return {"person": person, "target": scale}
    gauge = {
        "error_mm": zero_mm + either(target.gauge.error_mm),
        "lag_s": draw.uniform(0.0, target.gauge.lag_s - 0.01),
    }
    return {"person": person, "gauge": gauge}


def unit(made: Job, edge: Edge, rig: RigProfile, seed: int) -> dict[str, float]:
    """A unit as quiet or noisy, and as quick or slow, as its type allows."""
    tasks = tasks_for(made.setting, made.sensor_type, rig.target, wanted_mm=5.0)
    task = tasks[("far", "near").index(edge)]
    low_mm, high_mm = task.noise_mm
    draw = random.Random(f"{seed} unit")
    sd_mm = low_mm * (high_mm / low_mm) ** draw.random()
    response_s = draw.uniform(0.35, 1.0) * task.response_s
    return {"noise_percent": 100 * sd_mm / task.expected_mm, "response_s": response_s}


def coverage(rig: RigProfile, units: int) -> list[list[float]]:
    """The misses of `units` units of every kind, each on a bench of its own; few are too noisy to be measured."""
    found: list[list[float]] = []
    for number, (made, edge) in enumerate(EDGES):
        for seed in range(1000 * number + 100, 1000 * number + 100 + units):
            how = {"bench": truth(seed, rig), "change": unit(made, edge, rig, seed)}
            with suppress(NotMeasured):
                found.append(misses(*measured(made, rig, edge, seed=seed, **how), edge))
    assert len(found) >= 0.95 * len(EDGES) * units
    return found


@pytest.mark.parametrize(("rig", "units"), [(GAUGE, 2), (SCALE, 8)])
def test_the_stated_uncertainty_covers_the_truth(rig: RigProfile, units: int) -> None:
    found = coverage(rig, units)
    points = [miss for row in found for miss in row[:2]]
    travels = [row[2] for row in found]
    assert sum(miss > 1 for miss in points) <= max(2, 0.06 * len(points))
    assert sum(miss > 1 for miss in travels) <= max(2, 0.06 * len(travels))
    # Nor is it stated far too large.
    assert math.sqrt(sum(miss * miss for miss in points) / len(points)) > 0.3


@pytest.mark.slow
def test_with_a_gauge_the_stated_uncertainty_covers_the_truth_in_95_percent() -> None:
    found = coverage(GAUGE, 60)
    for column in range(3):
        covered = sum(row[column] <= 1 for row in found) / len(found)
        assert 0.93 <= covered <= 0.98, (column, covered)
    points = [miss for row in found for miss in row[:2]]
    assert 0.93 <= sum(miss <= 1 for miss in points) / len(points) <= 0.97


@pytest.mark.slow
def test_with_a_scale_the_stated_uncertainty_errs_to_the_safe_side() -> None:
    found = coverage(SCALE, 100)
    points = [miss for row in found for miss in row[:2]]
    assert 0.93 <= sum(miss <= 1 for miss in points) / len(points) <= 0.98


@pytest.mark.parametrize("edge", ["far", "near"])
@pytest.mark.parametrize(("rig", "method"), [(GAUGE, Method.GAUGE), (SCALE, Method.SCALE)])
def test_every_slide_comes_from_its_own_side_and_is_counted(
    rig: RigProfile, method: Method, edge: Edge
) -> None:
    result, there = measured(window_of(200.0, 400.0), rig, edge)
    outward = 1 if edge == "far" else -1
    assert result.effort.method is method
    slid = slides(there)
    assert [one.detected for one in slid] == [True, False] * 6
    for one in slid:
        assert (one.start_mm - one.end_mm) * outward * (1 if one.detected else -1) > 0
        assert one.changes == 1
    counted = {True: 0, False: 0}
    for one in slid:
        counted[one.detected] += 1
    assert counted == {True: 6, False: 6}
    assert result.effort.readings >= len(slid)
    assert result.figures.repeat is not None
    assert len(result.figures.repeat.points_mm) == 5
    assert result.figures.response_on is None


def test_only_the_person_knows_where_without_a_gauge_and_nobody_is_asked_with_one() -> None:
    _, with_gauge = measured(point_of(400.0), GAUGE)
    _, with_scale = measured(point_of(400.0), SCALE)
    for one in slides(with_gauge):
        assert one.told_mm is None
        assert len(one.track) > 10
    for one in slides(with_scale):
        assert one.told_mm is not None
        assert not one.track


def test_with_a_gauge_nobody_has_to_place_the_target_between_slides() -> None:
    _, there = measured(point_of(400.0), GAUGE)
    placed = [one.event for one in there.events if isinstance(one.event, TargetMoved)]
    assert len([one for one in placed if one.where == "slide"]) <= 4


def test_what_is_kept_of_the_track_lies_about_the_switching() -> None:
    _, there = measured(point_of(400.0), GAUGE)
    for one in slides(there):
        times_s = [at_s for at_s, _ in one.track]
        assert times_s == sorted(times_s)
        assert one.switched_s is not None
        near = [at_s for at_s in times_s if abs(at_s - one.switched_s) <= 1.5]
        assert len(near) >= len(times_s) - 2
        assert min(near) < one.switched_s - 0.5
        assert max(near) > one.switched_s + 0.2


def test_a_unit_set_far_off_is_found_there() -> None:
    for rig in (GAUGE, SCALE):
        for off_mm in (250.0, 560.0):
            result, there = measured(point_of(400.0), rig, taught={"near_mm": off_mm}, wanted_mm=5.0)
            assert result.figures.operate_mm.value == pytest.approx(off_mm, abs=3)
            assert max(misses(result, there)) < 1.5


def test_a_wide_differential_travel_is_measured_as_what_it_is() -> None:
    faults = [{"kind": "wide-hysteresis", "percent": 8.0}]
    for rig in (GAUGE, SCALE):
        result, there = measured(point_of(400.0), rig, faults=faults)
        assert result.figures.travel_mm.value > 20
        assert max(misses(result, there)) < 1.5


def test_a_slow_gauge_is_corrected_for_what_it_is_late() -> None:
    gauge = GAUGE.target.gauge
    assert gauge is not None
    late = gauge.model_copy(update={"lag_s": 0.4})
    rig = GAUGE.model_copy(update={"target": GAUGE.target.model_copy(update={"gauge": late})})
    for lag_s in (0.0, 0.39):
        bench = {"gauge": {"lag_s": lag_s}, "person": {"slide_mm_s": 5.0}}
        result, there = measured(point_of(400.0), rig, bench=bench)
        # At the ends of what it may be late, and quickly slid: nowhere could the miss be larger.
        assert max(misses(result, there)) < 1.3


def test_a_slow_hand_is_rewarded_with_a_smaller_uncertainty() -> None:
    found = [
        measured(point_of(400.0), SCALE, bench={"person": {"slide_mm_s": speed_mm_s}})[
            0
        ].figures.operate_mm.expanded
        for speed_mm_s in (1.5, 4.5)
    ]
    assert found[0] < 0.8 * found[1]


def test_what_is_wanted_too_finely_is_refused_before_anybody_is_asked() -> None:
    for rig in (GAUGE, SCALE, SLOTS):

        async def one(rig: RigProfile = rig) -> tuple[float, float, list[str]]:
            async with by_hand(point_of(400.0), rig=rig) as there:
                asked: list[str] = []
                there.bench.operator.on_request.append(lambda request: asked.append(request.text))
                task = tasks_of(there, 0.05)[0]
                with pytest.raises(TooFine) as refused:
                    await measure(there, task)
                return refused.value.smallest_mm, finest_mm(task, rig.target), asked

        smallest_mm, finest, asked = run(one)
        assert smallest_mm == finest
        assert 0.2 < smallest_mm < 10
        assert asked == []
        result, _ = measured(point_of(400.0), rig, wanted_mm=smallest_mm * 1.001)
        assert result.figures.operate_mm.value == pytest.approx(400, abs=5)


def test_from_slot_to_slot_the_edge_lies_between_two_of_them() -> None:
    for edge, ends_mm, beyond_mm in (
        ("far", (394.0, 402.0), (402.0, 412.0)),
        ("near", (196.0, 210.0), (196.0, 210.0)),
    ):
        result, there = measured(window_of(200.0, 400.0), SLOTS, edge, wanted_mm=30.0)  # type: ignore[arg-type]
        assert result.effort.method is Method.SLOTS
        assert result.figures.operate_mm.value == sum(ends_mm) / 2
        assert result.figures.operate_mm.expanded == pytest.approx(
            1.96 * (ends_mm[1] - ends_mm[0]) / 2 / math.sqrt(3), rel=0.1
        )
        assert beyond_mm[0] <= result.figures.release_mm.value <= beyond_mm[1]
        assert max(misses(result, there, edge)) < 1  # type: ignore[arg-type]
        moves = [one.event for one in there.events if isinstance(one.event, TargetMoved)]
        slots = [one.position_mm for one in moves if one.where == "slot"]
        outward = 1 if edge == "far" else -1
        turns = [
            (after.position_mm - before.position_mm) * outward
            for before, after in pairwise(moves)
            if before.where == after.where == "slot"
            and after.position_mm is not None
            and before.position_mm is not None
        ]
        assert len(slots) >= 9
        assert any(turn < 0 for turn in turns)
        assert any(turn > 0 for turn in turns)


def test_the_same_seed_measures_the_same() -> None:
    for rig in (GAUGE, SCALE):
        first, again = (measured(point_of(400.0), rig, seed=5)[0] for _ in range(2))
        assert first == again


def test_the_bench_is_as_still_afterwards_as_before() -> None:
    async def one() -> tuple[int, int, float]:
        async with by_hand(point_of(400.0)) as there:
            listeners = len(there.work.nest.output_line.on_edge)
            await measure(there, tasks_of(there, 5.0)[0])
            before_s = there.world.now_ns / NS
            return listeners, len(there.work.nest.output_line.on_edge), before_s

    before, after, _ = run(one)
    assert before == after
