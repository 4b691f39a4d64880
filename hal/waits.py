"""Waiting that ends at once when the bench trips."""

from __future__ import annotations

import asyncio
import sys
import time
from collections.abc import Callable
from typing import TypeVar

from hal.errors import BenchError
from hal.timing import GRAIN_S

T = TypeVar("T")

_LAST_TURN_S = 0.002
"""So long another thread must wait before it can interrupt the last stretch of an exact call."""

_RING_EARLY = 3.0
"""So many late wake-ups, one after the other, an exact call may meet: that of its timer, and of others before it."""


class Waits:
    """Every pending wait of the bench, so that one call ends them all with an error.

    Belongs to the loop's thread. `wake_early_s` is for loops in real time only: on a clock that stands still
    while a callback runs, waiting it out would never end.
    """

    def __init__(self, loop: asyncio.AbstractEventLoop, wake_early_s: float = 0.0) -> None:
        self._loop = loop
        self._wake_early_s = wake_early_s
        self._pending: set[asyncio.Future[object]] = set()
        self._ended_by: Callable[[], BenchError] | None = None

    async def until(self, future: asyncio.Future[T], timeout_s: float | None = None) -> T | None:
        """Wait for `future`; None after `timeout_s` seconds. Raises what `end` was told."""
        if self._ended_by is not None:
            raise self._ended_by()
        timer = None if timeout_s is None else self._loop.call_later(timeout_s, _give_up, future)
        pending: asyncio.Future[object] = future  # type: ignore[assignment]  # only its error is ever set
        self._pending.add(pending)
        try:
            return await future
        finally:
            self._pending.discard(pending)
            if timer is not None:
                timer.cancel()

    async def sleep(self, seconds: float) -> None:
        """Let `seconds` pass; none if negative."""
        if self._ended_by is not None:
            raise self._ended_by()
        if seconds <= 0.0:
            return
        over: asyncio.Future[object] = self._loop.create_future()
        timer = self._loop.call_later(seconds, _give_up, over)
        self._pending.add(over)
        try:
            await over
        except BaseException:
            timer.cancel()
            raise
        finally:
            self._pending.discard(over)

    async def sleep_until(self, when_s: float) -> None:
        """Let time pass up to loop time `when_s`."""
        await self.sleep(when_s - self._loop.time())

    def call_exactly(self, when_s: float, action: Callable[[], object]) -> asyncio.TimerHandle:
        """Call `action` at loop time `when_s`, not when the operating system comes round to it.

        The timer rings early; what is left is slept and then waited out, and the loop runs nothing else
        meanwhile.
        """
        return self._loop.call_at(when_s - _RING_EARLY * self._wake_early_s, self._wait_out, when_s, action)

    def _wait_out(self, when_s: float, action: Callable[[], object]) -> None:
        # Slept here, not in the loop: whatever else it had to do just before would cost a wake-up of its own.
        sleep_s = when_s - self._wake_early_s - self._loop.time()
        if sleep_s > GRAIN_S:
            time.sleep(sleep_s)
        turn_s = sys.getswitchinterval()
        sys.setswitchinterval(_LAST_TURN_S)
        try:
            while self._loop.time() < when_s - GRAIN_S:
                pass
            action()
        finally:
            sys.setswitchinterval(turn_s)

    def end(self, error: Callable[[], BenchError]) -> None:
        """End all waits with `error()`, and every later one, until `begin`."""
        self._ended_by = error
        for future in tuple(self._pending):
            if not future.done():
                future.set_exception(error())

    def begin(self) -> None:
        """Allow waiting again."""
        self._ended_by = None


def _give_up(future: asyncio.Future[T]) -> None:
    if not future.done():
        future.set_result(None)  # type: ignore[arg-type]  # None is what `until` promises
