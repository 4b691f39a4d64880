"""The chronicle: every event stamped once, handed on in order, and durable before work goes on."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Coroutine
from concurrent.futures import Future
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hal.simulated.clock import JumpingLoop
from rig.chronicle import Chronicle, TimeBase
from rig.events import Stamped, StepStarted, SupplySwitched, UnitStarted
from rig.journal import Journal, JournalError, read_journal
from tests.rig.recorded import locked, refuse_serial

START = datetime(2026, 1, 5, 7, 0, tzinfo=UTC)


def run_jumping(work: Callable[[JumpingLoop], Coroutine[Any, Any, None]]) -> None:
    loop = JumpingLoop()
    with asyncio.Runner(loop_factory=lambda: loop) as runner:
        runner.run(work(loop))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite3"


async def a_minute_of_work(chronicle: Chronicle) -> None:
    chronicle.order, chronicle.serial = "QOC-0101", "QOC18-0041"
    chronicle.note(UnitStarted("A", 1))
    await asyncio.sleep(0.25)
    chronicle.note(SupplySwitched(on=True))
    await asyncio.sleep(59.75)
    chronicle.serial = ""
    chronicle.note(SupplySwitched(on=False))


def test_events_are_numbered_and_stamped_with_time_order_and_unit() -> None:
    seen: list[Stamped] = []

    async def work(loop: JumpingLoop) -> None:
        chronicle = Chronicle(loop, None, TimeBase(START, loop.outside))
        chronicle.watch(seen.append)
        await a_minute_of_work(chronicle)

    run_jumping(work)
    unit = ("QOC-0101", "QOC18-0041")
    assert seen == [
        Stamped(1, 0, "2026-01-05T07:00:00.000Z", *unit, UnitStarted("A", 1)),
        Stamped(2, 250_000_000, "2026-01-05T07:00:00.250Z", *unit, SupplySwitched(on=True)),
        Stamped(3, 60_000_000_000, "2026-01-05T07:01:00.000Z", "QOC-0101", "", SupplySwitched(on=False)),
    ]


def test_every_watcher_and_the_journal_get_the_same_in_the_same_order(path: Path) -> None:
    seen: tuple[list[Stamped], list[Stamped]] = ([], [])

    async def work(loop: JumpingLoop) -> None:
        journal = Journal(path, "run-1")
        chronicle = Chronicle(loop, journal, TimeBase(START, loop.outside))
        for one in seen:
            chronicle.watch(one.append)
        await a_minute_of_work(chronicle)
        await chronicle.durable()
        assert list(read_journal(path)) == seen[0]
        journal.close()

    run_jumping(work)
    assert len(seen[0]) == 3
    assert seen[0] == seen[1]


def test_without_a_start_the_record_takes_the_time_of_the_day() -> None:
    before = datetime.now(UTC)
    text = TimeBase().utc(123)
    assert text.endswith("Z")
    moment = datetime.fromisoformat(text)
    assert before - timedelta(milliseconds=1) <= moment <= datetime.now(UTC)


@given(
    start=st.integers(0, 10**15).map(lambda us: START + timedelta(microseconds=us)),
    at_ns=st.lists(st.integers(0, 10**17), min_size=1, max_size=5),
)
def test_the_time_of_an_event_is_start_and_engine_time_to_the_millisecond(
    start: datetime, at_ns: list[int]
) -> None:
    for one_ns in at_ns:
        moment = start + timedelta(microseconds=one_ns // 1000)
        shown = datetime.fromisoformat(TimeBase(start).utc(one_ns))
        assert shown == moment.replace(microsecond=moment.microsecond // 1000 * 1000)


def test_without_a_journal_nothing_is_waited_for() -> None:
    async def work(loop: JumpingLoop) -> None:
        chronicle = Chronicle(loop, None, TimeBase())
        chronicle.note(SupplySwitched(on=True))
        await chronicle.durable()
        assert loop.time() == 0.0

    run_jumping(work)


def test_durable_waits_for_a_slow_disk_while_simulated_time_stands_still(path: Path) -> None:
    async def work(loop: JumpingLoop) -> None:
        journal = Journal(path, "run-1")
        chronicle = Chronicle(loop, journal, TimeBase(START, loop.outside))
        beats: list[float] = []
        loop.call_later(0.06, lambda: beats.append(loop.time()))
        chronicle.note(StepStarted(1, "clear the beam"))
        lock = locked(path)
        lock.__enter__()
        release = threading.Timer(0.2, lock.__exit__, (None, None, None))
        release.start()
        await chronicle.durable()
        assert [one.number for one in read_journal(path)] == [1]
        assert (loop.time(), beats) == (0.0, [])
        await asyncio.sleep(0.1)
        assert beats == [0.06]
        release.join()
        journal.close()

    run_jumping(work)


def test_what_is_on_the_disk_already_is_not_written_for_again(path: Path) -> None:
    class Counting(Journal):
        barriers = 0

        def barrier(self) -> Future[None]:
            self.barriers += 1
            return super().barrier()

    async def work(loop: JumpingLoop) -> None:
        journal = Counting(path, "run-1")
        chronicle = Chronicle(loop, journal, TimeBase(START, loop.outside))
        for number in range(1, 4):
            chronicle.note(SupplySwitched(on=True))
            await chronicle.durable()
            await chronicle.durable()
            assert [one.number for one in read_journal(path)] == list(range(1, number + 1))
        assert journal.barriers == 3
        journal.close()

    run_jumping(work)


def test_what_cannot_be_written_stops_the_work(path: Path) -> None:
    async def work(loop: JumpingLoop) -> None:
        journal = Journal(path, "run-1")
        chronicle = Chronicle(loop, journal, TimeBase(START, loop.outside))
        chronicle.serial = "QOC-9"
        refuse_serial(path, "QOC-9")
        chronicle.note(SupplySwitched(on=True))
        with pytest.raises(JournalError, match="disk is gone"):
            await chronicle.durable()
        with pytest.raises(JournalError):
            journal.close()

    run_jumping(work)


def test_work_that_is_cancelled_while_it_waits_leaves_the_record_going(path: Path) -> None:
    # A trip cancels the work on a unit at any moment; what happens after it has to be recorded all the same.
    async def work() -> None:
        loop = asyncio.get_running_loop()
        journal = Journal(path, "run-1")
        chronicle = Chronicle(loop, journal, TimeBase())
        with locked(path):
            chronicle.note(SupplySwitched(on=True))
            waiting = asyncio.create_task(chronicle.durable())
            await asyncio.sleep(0.05)
            waiting.cancel()
            with pytest.raises(asyncio.CancelledError):
                await waiting
        chronicle.note(SupplySwitched(on=False))
        await asyncio.wait_for(chronicle.durable(), 5.0)
        assert [one.number for one in read_journal(path)] == [1, 2]
        journal.close()

    asyncio.run(work())


def test_the_engine_goes_on_beating_while_the_disk_is_slow(path: Path) -> None:
    async def work() -> None:
        loop = asyncio.get_running_loop()
        journal = Journal(path, "run-1")
        chronicle = Chronicle(loop, journal, TimeBase())
        beats: list[float] = []

        async def beat() -> None:
            while True:
                beats.append(loop.time())
                await asyncio.sleep(0.02)

        heart = asyncio.create_task(beat())
        with locked(path):
            chronicle.note(SupplySwitched(on=True))
            waiting = asyncio.create_task(chronicle.durable())
            await asyncio.sleep(0.4)
            assert not waiting.done()
        await waiting
        heart.cancel()
        journal.close()
        assert len(beats) > 10

    asyncio.run(work())
