"""An event loop whose clock jumps: a minute of waiting passes in a moment, and every run is the same.

`JumpingLoop` is a plain asyncio loop, except that it never sleeps. When no callback is ready it sets its
clock to the next deadline and goes on. Its clock counts whole nanoseconds, so that adding up a million beats
loses nothing.

Time stands still while somebody who lives in real time is at work: a thread of the executor, or whatever
happens inside `with loop.outside():`. A loop on which nothing is scheduled and nobody is outside can never
go on; that is an error, and the error names the tasks that wait.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Coroutine, Iterator, Sequence
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from contextlib import contextmanager, suppress
from contextvars import Context
from math import inf
from pathlib import PurePath
from typing import Any, Protocol, TypeVar, TypeVarTuple

from hal.simulated.turns import TurningLoop

_T = TypeVar("_T")
_Ts = TypeVarTuple("_Ts")

NS = 1_000_000_000
_LONGEST_S = 2_000_000.0  # beyond this a float of seconds no longer tells nanoseconds apart


class Stalled(RuntimeError):
    """The program waits for something that can never happen.

    The message names every waiting task and the line it waits at. Usual causes: an event nobody sets, a
    future that another thread will resolve without `with loop.outside():`, a request nobody answers.
    """


class Happenings(Protocol):
    """What happens on its own as time passes, such as the physics of a bench."""

    @property
    def future(self) -> Sequence[tuple[int, object, object]]:
        """All that may happen, each with its time first; nothing happens before the first of them."""

    def happen_by(self, latest_ns: float) -> bool:
        """Set the loop's clock to the next thing that happens and let it happen; false if none does by `latest_ns`."""


class JumpingLoop(TurningLoop):
    """An asyncio loop on simulated time.

    `patience_s` is the real time given, before each jump, to the other end of a real file that is watched
    with `add_reader`. `waits_for_callers` lets a loop with nothing to do wait for `call_soon_threadsafe`
    from other threads instead of raising `Stalled`. `longest_s` is the simulated time after which the loop
    raises `Stalled` as well: a heartbeat would otherwise keep a deadlocked program alive for ever.
    """

    def __init__(
        self,
        *,
        patience_s: float = 0.005,
        waits_for_callers: bool = False,
        longest_s: float = _LONGEST_S,
    ) -> None:
        super().__init__()
        self._outside = 0
        self._outside_lock = threading.Lock()
        self._called_in = False
        self._happenings: Happenings
        self._future: Sequence[tuple[int, object, object]] = ()
        self._pool: ThreadPoolExecutor | None = None
        self._patience_s = patience_s
        self._waits_for_callers = waits_for_callers
        self._longest_ns = round(min(longest_s, _LONGEST_S) * NS)

    def follow(self, happenings: Happenings) -> None:
        """Stop at everything that will happen there, without a timer for each; one source per loop."""
        self._happenings, self._future = happenings, happenings.future

    def block_for(self, seconds: float) -> None:
        """Let time pass in which the loop runs nothing: what a blocking call does to a program."""
        if seconds < 0:
            raise ValueError(f"cannot block for {seconds} s")
        self.jump_to(int((self._now_s + seconds) * NS + 0.5))

    @contextmanager
    def outside(self) -> Iterator[None]:
        """Make time stand still while something in real time is waited for. Usable from any thread."""
        self._go_outside()
        try:
            yield
        finally:
            self._come_back()

    def call_soon_threadsafe(
        self, callback: Callable[[*_Ts], object], *args: *_Ts, context: Context | None = None
    ) -> asyncio.Handle:
        """Run `callback` on the loop soon; time does not jump before it has run."""
        handle = super().call_soon_threadsafe(callback, *args, context=context)
        self._called_in = self._watching.disturbed = True
        return handle

    def run_in_executor(  # type: ignore[override]  # the base promises a Future of a type it cannot name
        self, executor: Executor | None, func: Callable[..., _T], *args: Any
    ) -> asyncio.Future[_T]:
        """Run `func` in a thread; time stands still until the thread is done, even if nobody waits for it."""
        job: Future[_T] = (executor or self._own_pool()).submit(func, *args)
        self._go_outside()
        future = asyncio.wrap_future(job, loop=self)
        # Added after wrap_future's own callback, so the result has been handed over before time moves.
        job.add_done_callback(lambda _: self._come_back())
        return future

    async def shutdown_default_executor(self, timeout: float | None = None) -> None:  # noqa: ARG002, ASYNC109
        """Wait, in real time, for the executor's threads to end."""
        with self.outside():
            await super().shutdown_default_executor()

    def set_default_executor(self, executor: ThreadPoolExecutor) -> None:  # type: ignore[override]
        """Use `executor` for `run_in_executor(None, ...)`."""
        self._pool = executor
        super().set_default_executor(executor)

    def _own_pool(self) -> ThreadPoolExecutor:
        if self._pool is None:
            self.set_default_executor(ThreadPoolExecutor(thread_name_prefix="outside"))
        assert self._pool is not None
        return self._pool

    def _go_outside(self) -> None:
        with self._outside_lock:
            self._outside += 1
        self._watching.disturbed = True

    def _come_back(self) -> None:
        with self._outside_lock:
            self._outside -= 1
        if self._thread_id != threading.get_ident():  # the loop's own thread needs no waking
            with suppress(RuntimeError):  # the loop may be closed by now
                self.call_soon_threadsafe(_wake)

    def _let_time_pass(self, timer_s: float | None) -> None:
        if self._watching.disturbed and self._attend_to_real_time(timer_s):
            return
        future, timer_ns = self._future, inf if timer_s is None else timer_s * NS
        if future and future[0][0] <= timer_ns and self._happenings.happen_by(timer_ns):
            return
        if timer_s is not None:
            self.jump_to(int(timer_ns + 0.5))
        elif self._waits_for_callers:
            self._look_at_files(None)
        else:
            raise Stalled(f"nothing is scheduled and nobody is outside; {_who_waits(self)}")

    def _attend_to_real_time(self, timer_s: float | None) -> bool:
        """Look at, or wait for, whoever lives in real time; tell whether that keeps time from jumping now."""
        # Before anything is looked at: whoever comes in after that is heard in the next turn.
        self._watching.disturbed = self._watching.files > 1
        if self._outside:
            self._watching.disturbed = True
            self._look_at_files(None)
            return True
        # Looked at after `_outside`: who comes back calls in first, so a call is never missed.
        if self._called_in:
            self._called_in = False
            self._look_at_files(0)
            return True
        if self._watching.files == 1:
            return False
        patience_s = None if timer_s is None else min(timer_s - self._now_s, self._patience_s)
        return self._look_at_files(patience_s) or bool(self._outside)

    def jump_to(self, now_ns: int) -> None:
        """Set the clock; it never goes back."""
        if now_ns > self.now_ns:
            if now_ns > self._longest_ns:
                raise Stalled(f"{self._longest_ns / NS:g} simulated seconds have passed; {_who_waits(self)}")
            self.now_ns = now_ns
            self._now_s = now_ns / NS


def run(main: Coroutine[Any, Any, _T]) -> _T:
    """Run a coroutine to its end on a jumping loop of its own."""
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        return runner.run(main)


def _wake() -> None:
    """Do nothing; being called is what turns the loop."""


def _who_waits(loop: JumpingLoop) -> str:
    waiting = sorted(f"{task.get_name()} at {_place(task)}" for task in asyncio.all_tasks(loop))
    return "waiting: " + ("; ".join(waiting) or "no task at all")


def _place(task: asyncio.Task[Any]) -> str:
    places = []
    inner: Any = task.get_coro()
    while (frame := getattr(inner, "cr_frame", None)) is not None:
        where = PurePath(frame.f_code.co_filename).name
        name = inner.__qualname__.rpartition("<locals>.")[2]
        places.append(f"{name} ({where}:{frame.f_lineno})")
        inner = inner.cr_await
    return " > ".join(places) or repr(inner)
