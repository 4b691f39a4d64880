"""The engine: sequencer and hardware on one thread with one loop, which nothing that watches can delay."""

from __future__ import annotations

import asyncio
import gc
import selectors
import sys
import threading
from collections.abc import Callable, Coroutine
from concurrent.futures import Future
from contextlib import suppress
from typing import Any, Generic, TypeVar

from hal.bench import Bench, BenchState
from hal.errors import TripCause, TripKind

_T = TypeVar("_T")

LoopFactory = Callable[[], asyncio.AbstractEventLoop]


_running: set[Engine[Any]] = set()

_TURN_S = 0.001
WAKE_EARLY_S = 1.5 * _TURN_S
"""For `open_bench`, in real time: a timer this early is in time even if another thread has its turn first."""


def real_time_loop() -> asyncio.AbstractEventLoop:
    """A loop in real time that nothing else in this process holds up for long.

    epoll would round every wait up to 1 ms. A screen that computes would keep the interpreter for 5 ms at a
    time. And a full collection of garbage would look through every module loaded, 40 ms and more.
    """
    sys.setswitchinterval(_TURN_S)
    gc.collect()
    gc.freeze()
    return asyncio.SelectorEventLoop(selectors.SelectSelector())


class _Hurried(asyncio.SelectorEventLoop):
    """Real time, only that every second lasts a part of one."""

    def __init__(self, speed: float) -> None:
        self._speed = speed
        super().__init__(_HurriedSelector(speed))

    def time(self) -> float:
        return super().time() * self._speed


class _HurriedSelector(selectors.SelectSelector):
    def __init__(self, speed: float) -> None:
        super().__init__()
        self._speed = speed

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        return super().select(None if timeout is None else timeout / self._speed)


def hurried_loop(speed: float) -> asyncio.AbstractEventLoop:
    """A loop on which time runs `speed` times as fast as real time, for a simulated bench that somebody watches."""
    sys.setswitchinterval(_TURN_S)
    return _Hurried(speed)


class Engine(Generic[_T]):
    """Runs one job on a thread and loop of its own.

    Args:
        job: makes the coroutine to run; called on the engine's thread. It hands the bench that it
            opened to `engine.holds(bench)`, so that `stop` can reach the interlock from any thread.
        loop_factory: the loop, in real or jumping time.

    """

    def __init__(
        self, job: Callable[[Engine[_T]], Coroutine[Any, Any, _T]], loop_factory: LoopFactory = real_time_loop
    ) -> None:
        self._job = job
        self._loop_factory = loop_factory
        self._result: Future[_T] = Future()
        self._bench: Bench | None = None
        self._loop: asyncio.AbstractEventLoop | None = None
        self._stop_words = ""
        self._thread = threading.Thread(target=self._run, name="engine", daemon=True)

    def start(self) -> Engine[_T]:
        """Start the thread; returns at once."""
        self._thread.start()
        return self

    def holds(self, bench: Bench) -> None:
        """Take note of the bench that the job has opened."""
        self._bench = bench
        if self._stop_words:
            bench.interlock.trip(_asked(self._stop_words))

    def stop(self, words: str) -> None:
        """Release the relays now, in the caller's thread; the job ends, unless it has a person who resets the bench.

        Safe to call twice.
        """
        self._stop_words = words
        if self._bench is not None:
            self._bench.interlock.trip(_asked(words))

    def call(self, action: Callable[[], object]) -> None:
        """Run a short action on the engine's loop, such as the person's 'done'; lost once the job has ended."""
        if self._loop is not None:
            with suppress(RuntimeError):  # the loop is closed
                self._loop.call_soon_threadsafe(action)

    def say_done(self) -> None:
        """Tell, from any thread, that the person has done what was asked; ignored when nothing was."""
        if self._bench is not None:
            self.call(self._bench.operator.done)

    def say_number(self, number: float) -> None:
        """Tell, from any thread, the number that the person was asked for; ignored when none was.

        One that cannot be is asked for again.
        """
        if (bench := self._bench) is not None:
            self.call(lambda: bench.operator.number(number))

    def show_state(self, tell: Callable[[BenchState], object]) -> bool:
        """Hand the state of the bench to `tell` soon, on the engine's thread; false if it is not open yet."""
        bench = self._bench
        if bench is None:
            return False
        self.call(lambda: tell(bench.state()))
        return True

    def when_done(self, tell: Callable[[], object]) -> None:
        """Call `tell` once the job has ended, on the engine's thread, or at once if it has."""
        self._result.add_done_callback(lambda _: tell())

    @property
    def done(self) -> bool:
        """Whether the job has ended."""
        return self._result.done()

    def result(self, timeout_s: float | None = None) -> _T:
        """Wait for the job's result; raises what the job raised."""
        return self._result.result(timeout_s)

    def _run(self) -> None:
        _running.add(self)
        try:
            with asyncio.Runner(loop_factory=self._loop_factory) as runner:
                self._loop = runner.get_loop()
                outcome = runner.run(self._job(self))
        except BaseException as failure:  # handed over whole to whoever waits for the result
            _running.discard(self)
            self._result.set_exception(failure)
        else:
            _running.discard(self)
            self._result.set_result(outcome)


def running_engines() -> tuple[Engine[Any], ...]:
    """The engines at work in this process; from any thread."""
    return tuple(_running)


def _asked(words: str) -> TripCause:
    return TripCause(TripKind.ASKED, words, "Start again when ready; the unit in hand is set from the start.")
