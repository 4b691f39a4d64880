"""Waiting to a moment, in real time: never early, whatever the timer does."""

from __future__ import annotations

import asyncio

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


def test_an_exact_call_can_be_called_off() -> None:
    async def main() -> list[str]:
        loop = asyncio.get_running_loop()
        told: list[str] = []
        Waits(loop, 0.001).call_exactly(loop.time() + 0.005, lambda: told.append("called")).cancel()
        await asyncio.sleep(0.01)
        return told

    assert asyncio.run(main()) == []
