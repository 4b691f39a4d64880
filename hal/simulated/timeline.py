"""When things happen on the simulated bench: a queue of physics events behind the loop's clock.

Everything that touches the bench from outside (a pin written or read, a byte on a serial line, a person's
hand) enters the timeline first. Entering catches up: every event due by now happens, in order, at its own
nominal time, however late the loop is. So a program that was blocked finds the bench as it would be.

Input edges that the physics causes are told to their listeners by callbacks from the loop, with the nominal
time of the edge, never from inside somebody's write: as a kernel would tell them.
"""

from __future__ import annotations

import asyncio
import heapq
import threading
from collections import deque
from collections.abc import Callable
from contextlib import suppress

from hal.simulated.clock import NS, JumpingLoop

Happening = Callable[[], None]
Listener = Callable[[float, int], None]


class Event:
    """Something that will happen; `cancel()` makes it not happen."""

    __slots__ = ("happening", "later")

    def __init__(self, happening: Happening) -> None:
        self.happening: Happening | None = happening
        self.later: tuple[int, int] | None = None

    @property
    def pending(self) -> bool:
        """Whether it still lies ahead."""
        return self.happening is not None

    def cancel(self) -> None:
        """Take it out of the future; harmless when it has happened."""
        self.happening = None


class Timeline:
    """The bench's time in whole nanoseconds, on the loop's own base; use as `with timeline:`.

    `events` counts what was ever scheduled: a measure of what the physics costs.
    """

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self.loop = loop
        self._jumping = loop if isinstance(loop, JumpingLoop) else None
        self._now_ns = self._clock_ns()
        self.future: list[tuple[int, int, Event]] = []
        self.events = 0
        self._depth = 0
        self._lock = threading.RLock()
        self._inside_thread: int | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._timer_ns = 0
        self._untold: deque[tuple[Listener, float, int]] = deque()
        self._telling = False
        if isinstance(loop, JumpingLoop):
            loop.follow(self)

    @property
    def now_ns(self) -> int:
        """Now; while an event happens, the event's nominal time."""
        return self._now_ns if self._depth else self._clock_ns()

    def at(self, when_ns: int, happening: Happening) -> Event:
        """Let something happen at `when_ns` (at once if that is past)."""
        if self._inside_thread != threading.get_ident():
            with self:
                return self._expect(when_ns, happening)
        return self._expect(when_ns, happening)

    def after(self, delay_ns: int, happening: Happening) -> Event:
        """Let something happen `delay_ns` from now."""
        if self._inside_thread != threading.get_ident():
            with self:
                return self._expect(self._now_ns + delay_ns, happening)
        return self._expect(self._now_ns + delay_ns, happening)

    def _expect(self, when_ns: int, happening: Happening) -> Event:
        event = Event(happening)
        self.events += 1
        now_ns = self._now_ns
        heapq.heappush(self.future, (when_ns if when_ns > now_ns else now_ns, self.events, event))
        return event

    def put_off(self, event: Event, delay_ns: int) -> None:
        """Let a pending event happen `delay_ns` from now instead, which must not be sooner.

        It costs next to nothing: only when its old time comes is the event found a new place.
        """
        if self._inside_thread != threading.get_ident():
            with self:
                return self.put_off(event, delay_ns)
        self.events += 1
        event.later = (self._now_ns + delay_ns, self.events)
        return None

    def tell(self, listener: Listener, level: int) -> None:
        """Tell `listener` of an edge that happened now, soon, from the loop."""
        self._untold.append((listener, self._now_ns / NS, level))

    def __enter__(self) -> Timeline:
        self._lock.acquire()
        self._depth += 1
        if self._depth == 1:
            self._inside_thread = threading.get_ident()
            jumping, future = self._jumping, self.future
            now_ns = self._clock_ns() if jumping is None else jumping.now_ns
            if future and future[0][0] <= now_ns:
                try:
                    self._catch_up(now_ns)
                except BaseException:
                    self.__exit__()
                    raise
            self._now_ns = now_ns
        return self

    def __exit__(self, *_: object) -> None:
        try:
            # A jumping loop asks by itself when the next event is due.
            if self._depth == 1 and (self._untold or self._jumping is None):
                self._look_ahead()
        finally:
            self._depth -= 1
            if not self._depth:
                self._inside_thread = None
            self._lock.release()

    def _clock_ns(self) -> int:
        jumping = self._jumping
        return jumping.now_ns if jumping is not None else int(self.loop.time() * NS)

    def catch_up(self) -> None:
        """Let all that is due by now have happened; the same as entering and leaving, but quick if nothing is."""
        for due_ns, _, _ in self.future[:1]:
            if due_ns <= self._clock_ns():
                with self:
                    pass

    def _catch_up(self, now_ns: int) -> None:
        while (happening := self._taken(now_ns)) is not None:
            happening()

    def _taken(self, latest_ns: float) -> Happening | None:
        """The next thing to happen by `latest_ns`, taken out of the future; now is its time."""
        future = self.future
        while future and future[0][0] <= latest_ns:
            due_ns, _, event = heapq.heappop(future)
            happening = event.happening
            if happening is None:
                continue
            if event.later is None:
                event.happening = None
                self._now_ns = due_ns
                return happening
            heapq.heappush(future, (*event.later, event))
            event.later = None
        return None

    def _look_ahead(self) -> None:
        if self._untold and not self._telling:
            self._telling = True
            self._on_loop(self._tell_all)
        if self._jumping is not None:
            return
        due_ns = self.due_ns()
        if due_ns is not None and (self._timer is None or due_ns != self._timer_ns):
            if self._on_own_loop():
                self._set_timer(due_ns)
            else:
                self._on_loop(self.happen)

    def due_ns(self) -> int | None:
        """When the next event is due; None when none is."""
        future = self.future
        while future:
            when_ns, _, event = future[0]
            if event.happening is None:
                heapq.heappop(future)
            elif event.later is not None:
                heapq.heapreplace(future, (*event.later, event))
                event.later = None
            else:
                return when_ns
        return None

    def _on_own_loop(self) -> bool:
        try:
            return asyncio.get_running_loop() is self.loop
        except RuntimeError:
            return False

    def _on_loop(self, what: Happening) -> None:
        with suppress(RuntimeError):  # a closed loop has nobody left to tell
            if self._on_own_loop():
                self.loop.call_soon(what)
            else:
                self.loop.call_soon_threadsafe(what)

    def _set_timer(self, due_ns: int) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer_ns = due_ns
        self._timer = self.loop.call_at(due_ns / NS, self._timer_rang)

    def happen(self) -> None:
        """Let all that is due happen, and tell of its edges at once; for the loop, between two callbacks."""
        telling, self._telling = self._telling, True
        with self:
            pass  # entering is what lets due events happen, and leaving is what looks ahead
        if not telling:
            self._tell_all()

    def happen_by(self, latest_ns: float) -> bool:
        """Set a jumping loop's clock to the next event, let all of that moment happen, and tell of its edges at once.

        For the loop, between two callbacks. False if no event is due by `latest_ns`.
        """
        assert self._jumping is not None
        future = self.future
        with self._lock:
            happening = self._taken(latest_ns)
            if happening is None:
                return False
            now_ns = self._now_ns
            self._jumping.jump_to(now_ns)
            self._depth, self._inside_thread = 1, threading.get_ident()
            telling, self._telling = self._telling, True
            try:
                happening()
                if future and future[0][0] <= now_ns:
                    self._catch_up(now_ns)
            finally:
                self._depth, self._inside_thread = 0, None
        if not telling:
            self._telling = False  # before looking: see `_tell_all`
            if self._untold:
                self._telling = True
                self._tell_all()
        return True

    def _timer_rang(self) -> None:
        self._timer = None
        self.happen()

    def _tell_all(self) -> None:
        untold = self._untold
        try:
            while untold:
                listener, ticks_s, level = untold.popleft()
                listener(ticks_s, level)
        except Exception as error:  # as from any callback of the loop
            self.loop.call_exception_handler(
                {"message": "Exception in listener to edges", "exception": error}
            )
        finally:
            # In this order: another thread that adds one either finds nobody telling, or is seen here.
            self._telling = False
            if untold:
                self._look_ahead()
