"""What stands in the way of measuring is recognised and named, and no number is told then."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import cycle
from typing import Any

import pytest

from hal.errors import InstrumentError, Tripped
from hal.interlock.rules import Condition
from hal.nest import OutputLevel
from hal.simulated.memory import Memory
from rig.edges.task import NoDrive, TooFine
from rig.events import Stamped, TargetMoved
from rig.measuring.trouble import NotMeasured, Trouble
from tests.rig.measuring.units import OnBench, measure_edge, on_bench, point_of, run, window_of
from tests.rig.planned import Job, rig_with
from wiring.terms import DetectionMode

SLOW = rig_with(speed_mm_s=20.0, farthest_mm=1000.0)

Meddle = Callable[[OnBench], None]


def trouble_of(
    meddle: Meddle = lambda _: None,
    made: Job | None = None,
    *,
    edge: int = 0,
    wanted_mm: float = 0.5,
    **how: Any,
) -> NotMeasured:
    """What a measurement with something wrong ends in."""

    async def one() -> NotMeasured:
        async with on_bench(made or point_of(300.0), **how) as there:
            meddle(there)
            with pytest.raises(NotMeasured) as failed:
                await measure_edge(there.work, there.tasks(wanted_mm)[edge])
            return failed.value

    return run(one)


def when_first(where: str, act: Callable[[], None]) -> Callable[[OnBench], None]:
    """Do something when the target first goes to a place."""

    def meddle(there: OnBench) -> None:
        done: list[str] = []

        def watch(stamped: Stamped) -> None:
            event = stamped.event
            if isinstance(event, TargetMoved) and event.where == where and not done:
                done.append(where)
                act()

        there.work.chronicle.watch(watch)

    return meddle


def leave_target_in_beam(there: OnBench) -> None:
    there.world.target.put_in_beam(True)
    there.world.target.swing = lambda **_: None  # type: ignore[method-assign]


def test_a_target_that_does_not_leave_the_beam() -> None:
    async def one() -> NotMeasured:
        async with on_bench(point_of(300.0)) as there:
            await there.work.place("before", 200.0)
            leave_target_in_beam(there)
            with pytest.raises(NotMeasured) as failed:
                await measure_edge(there.work, there.tasks()[0])
            return failed.value

    failed = run(one)
    assert failed.trouble is Trouble.TARGET_LEFT
    assert "though the beam is clear" in str(failed)
    assert "leaves the beam" in failed.check


def test_a_target_that_stays_in_the_beam_from_the_middle_of_a_search_on() -> None:
    def meddle(there: OnBench) -> None:
        when_first("operate point", lambda: leave_target_in_beam(there))(there)

    # On a slow stage leaving the beam is quicker than the way over the seat, at first.
    assert trouble_of(meddle, rig=rig_with(speed_mm_s=100.0)).trouble is Trouble.TARGET_LEFT


@pytest.mark.parametrize(
    "how",
    [
        {"faults": [{"kind": "dead"}]},
        {"faults": [{"kind": "wrong-output-type"}]},
        {"taught": {"near_mm": 150.0}},
    ],
)
def test_a_target_that_is_not_detected_inside_the_zone(how: dict[str, Any]) -> None:
    failed = trouble_of(**how)
    assert failed.trouble is Trouble.NOT_DETECTED
    assert "180.0 mm" in str(failed)


def test_an_output_that_chatters() -> None:
    failures = [trouble_of(seed=seed, faults=[{"kind": "noisy-echo"}]) for seed in range(5)]
    chatters = [failed for failed in failures if failed.trouble is Trouble.OUTPUT_CHATTERS]
    assert len(chatters) >= 3
    assert all("keep" in str(failed) for failed in chatters)
    assert any("last at 30" in str(failed) for failed in chatters)
    assert all(failed.trouble is not Trouble.BEYOND_REACH for failed in failures)


def test_an_output_that_is_at_neither_rail(monkeypatch: pytest.MonkeyPatch) -> None:
    def meddle(there: OnBench) -> None:
        monkeypatch.setattr(there.work.nest, "output", lambda: OutputLevel.BETWEEN)

    failed = trouble_of(meddle)
    assert failed.trouble is Trouble.OUTPUT_UNCLEAR
    assert "between the rails" in str(failed)


def set_to(there: OnBench, near_mm: float) -> Callable[[], None]:
    memory = Memory(DetectionMode.SINGLE_POINT, near_mm=near_mm)
    return lambda: there.unit.store(memory)


@pytest.mark.parametrize("where", ["repeat accuracy", "release point", "pass"])
@pytest.mark.parametrize("near_mm", [285.0, 320.0])
def test_a_unit_that_changes_its_mind(where: str, near_mm: float) -> None:
    def meddle(there: OnBench) -> None:
        when_first(where, set_to(there, near_mm))(there)

    assert trouble_of(meddle).trouble is Trouble.CHANGES_ITS_MIND


def test_a_unit_that_moves_its_edge_a_little_while_the_way_back_is_searched() -> None:
    def meddle(there: OnBench) -> None:
        when_first("release point", set_to(there, 304.5))(there)

    failed = trouble_of(meddle)
    assert failed.trouble is Trouble.CHANGES_ITS_MIND
    assert "before" in str(failed)


def test_a_unit_that_has_two_edges_in_turn() -> None:
    def meddle(there: OnBench) -> None:
        edges_mm = cycle((300.0, 310.0))

        def watch(stamped: Stamped) -> None:
            if isinstance(stamped.event, TargetMoved) and stamped.event.where == "operate point":
                set_to(there, next(edges_mm))()

        there.work.chronicle.watch(watch)

    failed = trouble_of(meddle)
    assert failed.trouble is Trouble.CHANGES_ITS_MIND
    assert "one operate point" in str(failed)


def test_a_unit_noisier_than_its_hysteresis_is_wide_cannot_keep_still() -> None:
    async def one(seed: int) -> NotMeasured | None:
        faults = [{"kind": "noisy-echo", "factor": 4.0}]
        async with on_bench(point_of(300.0), seed=seed, faults=faults) as there:
            try:
                await measure_edge(there.work, there.tasks()[0])
            except NotMeasured as failed:
                return failed
            return None

    failures = [failed for seed in range(16) if (failed := run(lambda seed=seed: one(seed))) is not None]
    assert all(failed.trouble is Trouble.OUTPUT_CHATTERS for failed in failures)
    assert sum("cannot keep still near its edges" in str(failed) for failed in failures) >= 4


def test_an_operate_point_beyond_the_way_of_the_target() -> None:
    failed = trouble_of(taught={"near_mm": 700.0}, rig=rig_with(farthest_mm=500.0))
    assert failed.trouble is Trouble.BEYOND_REACH
    assert "operate point" in str(failed)


def test_a_release_point_beyond_the_way_of_the_target() -> None:
    failed = trouble_of(rig=rig_with(farthest_mm=301.5), faults=[{"kind": "wide-hysteresis", "percent": 5.0}])
    assert failed.trouble is Trouble.BEYOND_REACH
    assert "release point" in str(failed)


def test_passes_that_change_nothing() -> None:
    def meddle(there: OnBench) -> None:
        when_first("pass", set_to(there, 100.0))(there)

    failed = trouble_of(meddle, wanted_mm=1.5, rig=SLOW)
    assert failed.trouble is Trouble.OUTPUT_CHATTERS
    assert "of 5 passes" in str(failed)


def test_a_stage_that_stalls_is_a_fault_of_the_bench_and_passes_through() -> None:
    async def one() -> None:
        async with on_bench(point_of(300.0)) as there:
            loses_steps = there.world.timeline.after(4_000_000_000, lambda: _jam(there))
            with pytest.raises(InstrumentError, match="look for an obstacle or lost steps"):
                await measure_edge(there.work, there.tasks()[0])
            assert not loses_steps.pending

    run(one)


def _jam(there: OnBench) -> None:
    target = there.world.target
    move = target.start_move

    def stuck(to_mm: float, speed_mm_s: float, *, placement_mm: float | None = None) -> None:
        move(
            target.position_mm() + 0.3 * (to_mm - target.position_mm()), speed_mm_s, placement_mm=placement_mm
        )

    target.start_move = stuck  # type: ignore[method-assign]


def test_a_trip_ends_measuring_with_everything_off() -> None:
    async def one() -> None:
        async with on_bench(point_of(300.0)) as there:
            there.world.timeline.after(5_000_000_000, lambda: there.world.coils.press_stop(True))
            with pytest.raises(Tripped):
                await measure_edge(there.work, there.tasks()[0])
            assert there.bench.interlock.condition is Condition.TRIPPED

    run(one)


def test_what_the_bench_cannot_do_is_refused_before_anything_moves() -> None:
    async def one() -> None:
        async with on_bench(window_of(200.0, 400.0)) as there:
            task = replace(there.tasks()[0], wanted_mm=0.1)
            with pytest.raises(TooFine):
                await measure_edge(there.work, task)
            assert not [one for one in there.events if isinstance(one.event, TargetMoved)]

    run(one)
    assert issubclass(NoDrive, ValueError)


def test_every_trouble_says_what_to_look_at() -> None:
    for trouble in Trouble:
        assert NotMeasured(trouble, "words").check.endswith(".")
