"""The heartbeat's pulses in time, when the loop is on time and when it is not."""

import asyncio
from itertools import pairwise
from threading import RLock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hal.heartbeat import Heartbeat
from hal.simulated.clock import JumpingLoop
from tests.hal.rigs import SELECTOR, run
from tests.looking import examples

TIMING = SELECTOR.coil_supply
PULSE_S = 2 * TIMING.beat_s
SPARE_S = 0.75 * TIMING.beat_s
"""A late fall leaves a quarter of a beat before the next rise."""


class Pulses:
    """A heartbeat whose pulses are noted instead of written."""

    def __init__(self) -> None:
        loop = asyncio.get_running_loop()
        assert isinstance(loop, JumpingLoop)
        self.loop = loop
        self.rose: list[float] = []
        self.level = False
        self.late: list[float] = []
        self.heart = Heartbeat(
            self._write, TIMING, loop, RLock(), on_late=self.late.append, on_fault=pytest.fail
        )

    def _write(self, level: bool) -> None:
        assert level is not self.level
        self.level = level
        if level:
            self.rose.append(self.loop.time())


def test_pulses_come_evenly() -> None:
    async def main() -> None:
        pulses = Pulses()
        pulses.heart.start()
        await asyncio.sleep(100 * PULSE_S)
        assert [later - rose for rose, later in pairwise(pulses.rose)] == pytest.approx([PULSE_S] * 100)
        assert pulses.heart.rose_s == pulses.rose[-1]

    run(main())


def test_a_late_fall_does_not_put_off_the_next_pulse() -> None:
    async def main() -> None:
        pulses = Pulses()
        pulses.heart.start()
        pulses.loop.block_for(PULSE_S - 0.02)
        await asyncio.sleep(PULSE_S)
        assert pulses.rose[:2] == pytest.approx([0.0, PULSE_S])

    run(main())


@settings(max_examples=examples(40))
@given(st.lists(st.tuples(st.floats(0.001, 0.15), st.floats(0.0, SPARE_S)), min_size=1, max_size=20))
def test_hold_ups_that_fit_into_the_spare_time_never_starve_the_coils(
    hold_ups: list[tuple[float, float]],
) -> None:
    async def main() -> None:
        pulses = Pulses()
        pulses.heart.start()
        for after_s, for_s in hold_ups:
            await asyncio.sleep(after_s)
            pulses.loop.block_for(for_s)
        await asyncio.sleep(1.0)
        assert pulses.late == []
        longest_s = max(later - rose for rose, later in pairwise(pulses.rose))
        assert longest_s <= 0.9 * TIMING.dropout_s + 1e-6

    run(main())


@pytest.mark.parametrize("after_s", [0.0, 0.03, 0.07, 0.11])
def test_a_hold_up_that_may_have_dropped_the_coils_is_told_once(after_s: float) -> None:
    async def main() -> None:
        pulses = Pulses()
        pulses.heart.start()
        await asyncio.sleep(PULSE_S + after_s)
        assert pulses.heart.pause_s() is None
        pulses.loop.block_for(TIMING.dropout_s)
        assert pulses.heart.pause_s() is not None
        await asyncio.sleep(1.0)
        (pause_s,) = pulses.late
        assert pause_s > 0.9 * TIMING.dropout_s
        pulses.heart.stop()
        assert pulses.heart.pause_s() is None

    run(main())
