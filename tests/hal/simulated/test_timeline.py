"""The queue of physics events: each happens once, at its own time, unless it is put off or called off."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import closing

import pytest

from hal.simulated.clock import JumpingLoop
from hal.simulated.timeline import Timeline


@pytest.fixture
def timeline() -> Iterator[Timeline]:
    with closing(JumpingLoop()) as loop:
        yield Timeline(loop)


def noting(timeline: Timeline) -> tuple[list[tuple[str, int]], Callable[[str], Callable[[], None]]]:
    """What happened when, and a maker of events that note themselves."""
    happened: list[tuple[str, int]] = []
    return happened, lambda name: lambda: happened.append((name, timeline.now_ns))


def pass_time(timeline: Timeline, seconds: float) -> None:
    loop = timeline.loop
    assert isinstance(loop, JumpingLoop)
    loop.block_for(seconds)
    timeline.happen()


def test_an_event_that_is_put_off_happens_later_and_once(timeline: Timeline) -> None:
    happened, note = noting(timeline)
    overdue = timeline.after(200, note("overdue"))
    timeline.at(250, note("between"))
    pass_time(timeline, 100e-9)
    timeline.put_off(overdue, 200)
    assert timeline.due_ns() == 250
    pass_time(timeline, 900e-9)
    assert happened == [("between", 250), ("overdue", 300)]
    assert not overdue.pending
    assert timeline.due_ns() is None


def test_an_event_may_be_put_off_again_and_again(timeline: Timeline) -> None:
    happened, note = noting(timeline)
    overdue = timeline.after(200, note("overdue"))
    for _ in range(50):
        pass_time(timeline, 120e-9)
        timeline.put_off(overdue, 200)
    assert happened == []
    assert overdue.pending
    pass_time(timeline, 1e-6)
    assert happened == [("overdue", 50 * 120 + 200)]


def test_an_event_that_was_put_off_can_be_called_off(timeline: Timeline) -> None:
    happened, note = noting(timeline)
    overdue = timeline.after(200, note("overdue"))
    timeline.put_off(overdue, 300)
    overdue.cancel()
    pass_time(timeline, 1e-6)
    assert happened == []
    assert timeline.due_ns() is None


def test_at_one_moment_an_event_that_was_put_off_comes_after_those_made_before(timeline: Timeline) -> None:
    happened, note = noting(timeline)
    first = timeline.after(100, note("put off"))
    timeline.at(300, note("made before"))
    timeline.put_off(first, 300)
    timeline.at(300, note("made after"))
    pass_time(timeline, 1e-6)
    assert [name for name, _ in happened] == ["made before", "put off", "made after"]
