"""The turns of an event loop that keeps its own time, in whole nanoseconds.

On a clock that jumps a turn is all that a moment of the bench costs, and a minute has a thousand of them, the
heartbeat's above all. asyncio's own turn is made for loops that sleep: it asks the operating system each time
and sorts its timers by calling Python for every comparison. Here the same tasks, futures and handles run in a
turn that does no more than it must; what becomes of time when nothing is left to run is for the subclass.
"""

from __future__ import annotations

import asyncio
import selectors
from collections import deque
from collections.abc import Callable, Sequence
from contextvars import Context, copy_context
from heapq import heapify, heappop, heappush
from itertools import count
from typing import TYPE_CHECKING, Any, TypeVarTuple

if TYPE_CHECKING:
    from _typeshed import FileDescriptorLike

_Ts = TypeVarTuple("_Ts")

_TURNS_BETWEEN_LOOKS = 64  # a signal is noticed this late at worst
_FEWEST_TO_SWEEP = 100
_SAME_S = (
    0.6e-9  # a deadline half a nanosecond ahead rounds to now and must run now, or the loop would spin on it
)


class _CountingSelector(selectors.DefaultSelector):
    """Knows how many files it watches; the loop's own wake-up socket is the first.

    `disturbed` is set by whatever lives in real time, and says that the loop has to look before its time jumps.
    """

    files = 0
    disturbed = False

    def register(self, fileobj: FileDescriptorLike, events: int, data: Any = None) -> selectors.SelectorKey:
        key = super().register(fileobj, events, data)
        self.files += 1
        self.disturbed = True
        return key

    def unregister(self, fileobj: FileDescriptorLike) -> selectors.SelectorKey:
        key = super().unregister(fileobj)
        self.files -= 1
        return key


class _Soon(asyncio.Handle):
    """A handle made in one step instead of three; it remembers no traceback for debugging."""

    __slots__ = ()

    def __init__(
        self,
        callback: Callable[..., object],
        args: Sequence[Any],
        loop: asyncio.AbstractEventLoop,
        context: Context | None,
    ) -> None:
        self._callback = callback
        self._args = args
        self._loop = loop
        self._context = copy_context() if context is None else context
        self._cancelled = False
        self._repr = self._source_traceback = None


class _Timer(asyncio.TimerHandle):
    """The same for timers."""

    __slots__ = ()

    _callback: Callable[..., object] | None

    def __init__(
        self,
        when: float,
        callback: Callable[..., object],
        args: Sequence[Any],
        loop: TurningLoop,
        context: Context | None,
    ) -> None:
        self._when = when
        self._callback = callback
        self._args = args
        self._loop = loop
        self._context = copy_context() if context is None else context
        self._cancelled = False
        self._repr = self._source_traceback = None

    def cancel(self) -> None:
        if not self._cancelled:
            self._cancelled = True
            self._callback, self._args = None, ()
            self._loop._timer_handle_cancelled(self)


class TurningLoop(asyncio.SelectorEventLoop):
    """An asyncio loop whose time is `now_ns`; timers for the same time run in the order in which they were made.

    It stands on private names of asyncio's `BaseEventLoop`, the same in every Python from 3.11 on: `_run_once`
    is called until the loop stops, `_timer_handle_cancelled` hears of cancelled timers, and those below.
    """

    _ready: deque[Any]  # handles, whose parts have no types
    _stopping: bool
    _closed: bool
    _thread_id: int | None
    _check_closed: Callable[[], None]
    _process_events: Callable[[list[tuple[selectors.SelectorKey, int]]], None]

    def __init__(self) -> None:
        self.now_ns = 0
        self._now_s = 0.0
        self._watching = _CountingSelector()
        self._timers: list[tuple[float, int, asyncio.TimerHandle]] = []
        self._order = count()
        self._cancelled = 0
        super().__init__(self._watching)

    def time(self) -> float:
        """Seconds since the loop was made."""
        return self._now_s

    def call_soon(
        self, callback: Callable[[*_Ts], object], *args: *_Ts, context: Context | None = None
    ) -> asyncio.Handle:
        """Run `callback` in the next turn."""
        if self._closed:
            self._check_closed()
        handle = _Soon(callback, args, self, context)
        self._ready.append(handle)
        return handle

    def call_at(
        self, when: float, callback: Callable[[*_Ts], object], *args: *_Ts, context: Context | None = None
    ) -> asyncio.TimerHandle:
        """Run `callback` at loop time `when`, rounded to a nanosecond."""
        if self._closed:
            self._check_closed()
        timer = _Timer(when, callback, args, self, context)
        heappush(self._timers, (when, next(self._order), timer))
        return timer

    def call_later(
        self, delay: float, callback: Callable[[*_Ts], object], *args: *_Ts, context: Context | None = None
    ) -> asyncio.TimerHandle:
        """Run `callback` after `delay` seconds."""
        return self.call_at(self._now_s + delay, callback, *args, context=context)

    def close(self) -> None:
        """Close the loop; its timers are forgotten."""
        self._timers.clear()
        super().close()

    def _timer_handle_cancelled(self, _: asyncio.TimerHandle) -> None:
        # Most timers are time-outs that never ring: without a sweep they would lie there until their time came.
        self._cancelled += 1
        if self._cancelled > _FEWEST_TO_SWEEP and self._cancelled > len(self._timers) // 2:
            self._cancelled = 0
            self._timers[:] = [entry for entry in self._timers if not entry[2].cancelled()]
            heapify(self._timers)

    def _run_once(self) -> None:
        """Look at files and signals, then turn until it is time to look again."""
        self._look_at_files(0)
        ready, timers = self._ready, self._timers
        for _ in range(_TURNS_BETWEEN_LOOKS):
            if not (ready or self._stopping):
                while timers and timers[0][2]._cancelled:
                    heappop(timers)
                self._let_time_pass(timers[0][0] if timers else None)
            due_s = self._now_s + _SAME_S
            while timers and timers[0][0] < due_s:
                ready.append(heappop(timers)[2])
            for _ in range(len(ready)):
                handle = ready.popleft()
                if not handle._cancelled:
                    try:  # what `handle._run` does, without its call
                        handle._context.run(handle._callback, *handle._args)
                    except (SystemExit, KeyboardInterrupt):
                        raise
                    except BaseException as error:
                        self._report(handle, error)
            if self._stopping:
                return

    def _report(self, handle: asyncio.Handle, error: BaseException) -> None:
        what = f"Exception in callback {handle!r}"
        self.call_exception_handler({"message": what, "exception": error, "handle": handle})

    def _look_at_files(self, timeout_s: float | None) -> bool:
        """Wait so long for files, signals and calls from other threads; tell whether there was anything."""
        seen = self._watching.select(timeout_s)
        self._process_events(seen)
        return bool(seen)

    def _let_time_pass(self, timer_s: float | None) -> None:
        """Nothing is ready: let time pass, at most until the first timer, or until something else happens."""
        raise NotImplementedError
