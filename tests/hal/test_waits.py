"""Waiting to a moment, in real time: never early, whatever the timer and other threads do."""

from __future__ import annotations

import asyncio
import sys
import time

import pytest

from hal.simulated.clock import JumpingLoop
from hal.waits import Waits


@pytest.mark.parametrize("early_s", [0.0, 0.001, 0.03])
def test_an_exact_call_is_never_early_however_early_its_timer_rings(early_s: float) -> None:
    async def main() -> float:
        loop = asyncio.get_running_loop()
        due_s, called = loop.time() + 0.02, loop.create_future()
        Waits(loop, early_s).call_exactly(due_s, lambda: called.set_result(loop.time()))
        return await called - due_s

    assert asyncio.run(main()) >= -1e-6


def test_an_exact_call_on_the_jumping_clock_comes_at_its_very_moment() -> None:
    async def main() -> float:
        loop = asyncio.get_running_loop()
        called = loop.create_future()
        Waits(loop).call_exactly(3.25, lambda: called.set_result(loop.time()))
        return await called

    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        assert runner.run(main()) == pytest.approx(3.25, abs=1e-9)


@pytest.mark.parametrize("fails", [False, True])
def test_other_threads_are_held_off_only_while_an_exact_call_is_made(fails: bool) -> None:
    async def main() -> list[float]:
        loop = asyncio.get_running_loop()
        loop.set_exception_handler(lambda _loop, _context: None)
        turns_s: list[float] = []

        def action() -> None:
            turns_s.append(sys.getswitchinterval())
            if fails:
                raise ZeroDivisionError

        Waits(loop, 0.0015).call_exactly(loop.time() + 0.01, action)
        await asyncio.sleep(0.02)
        return [*turns_s, sys.getswitchinterval()]

    before_s = sys.getswitchinterval()
    sys.setswitchinterval(0.001)
    try:
        assert asyncio.run(main()) == [pytest.approx(0.002), pytest.approx(0.001)]
    finally:
        sys.setswitchinterval(before_s)


def test_an_exact_call_sleeps_until_its_last_stretch() -> None:
    async def main() -> float:
        loop, called = asyncio.get_running_loop(), asyncio.Event()
        Waits(loop, 0.05).call_exactly(loop.time() + 0.2, called.set)
        before_s = time.thread_time()
        await called.wait()
        return time.thread_time() - before_s

    # Its timer rings 150 ms early; only the last 50 are waited out at work.
    assert asyncio.run(main()) < 0.09


def test_an_exact_call_can_be_called_off() -> None:
    async def main() -> list[str]:
        loop = asyncio.get_running_loop()
        told: list[str] = []
        Waits(loop, 0.001).call_exactly(loop.time() + 0.005, lambda: told.append("called")).cancel()
        await asyncio.sleep(0.01)
        return told

    assert asyncio.run(main()) == []
