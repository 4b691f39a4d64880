"""The chronicle stamps events with time and place and hands them to the journal and to whoever watches."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

from rig.events import Event, Stamped
from rig.journal import Journal
from rig.moments import utc_now

Watcher = Callable[[Stamped], None]


@dataclass(frozen=True, slots=True)
class TimeBase:
    """What time it is for the record, and how to wait for another thread.

    Attributes:
        started_utc: UTC at engine time zero; None takes the system's clock at each event.
        outside: entered while a thread is waited for, so that a jumping clock stands still.

    """

    started_utc: datetime | None = None
    outside: Callable[[], AbstractContextManager[object]] = nullcontext

    def utc(self, at_ns: int) -> str:
        """UTC of an engine time, ISO 8601 with milliseconds."""
        started = self.started_utc
        if started is None:
            return utc_now()
        minutes, us = divmod(started.second * _S + started.microsecond + at_ns // 1000, 60 * _S)
        return f"{_to_the_minute(started, minutes)}:{us // _S:02}.{us % _S // 1000:03}Z"


_S = 1_000_000


@lru_cache(maxsize=1)
def _to_the_minute(started: datetime, minutes: int) -> str:
    # On a clock that jumps many events share their minute, and to put a date into words costs as much as the rest.
    moment = started.replace(second=0, microsecond=0) + timedelta(minutes=minutes)
    return moment.isoformat(timespec="minutes").removesuffix("+00:00")


class Chronicle:
    """Every event passes here once, on the engine's thread.

    Watchers are called in the engine's own turn and must only hand the event on (a queue's `put`).
    """

    def __init__(self, loop: asyncio.AbstractEventLoop, journal: Journal | None, base: TimeBase) -> None:
        self._loop = loop
        self._journal = journal
        self._base = base
        self._watchers: list[Watcher] = []
        self._number = 0
        self._on_disk = 0
        self.order = ""
        self.serial = ""

    def watch(self, watcher: Watcher) -> None:
        """Add a watcher."""
        self._watchers.append(watcher)

    def note(self, event: Event) -> None:
        """Stamp an event of the order and unit in hand and pass it on."""
        self._number += 1
        at_ns = round(self._loop.time() * 1e9)
        stamped = Stamped(self._number, at_ns, self._base.utc(at_ns), self.order, self.serial, event)
        if self._journal is not None:
            self._journal.record(stamped)
        for watcher in self._watchers:
            watcher(stamped)

    async def durable(self) -> None:
        """Return once all events so far are on the disk.

        Raises:
            JournalError: when they cannot be written; nothing may be switched on after it.

        """
        if self._journal is not None and self._on_disk != self._number:
            await self._reach(self._journal.barrier)

    async def ready_for_unit(self) -> None:
        """Return once all events so far are on the disk, and it has shown that it will take those of a unit.

        Raises:
            JournalError: when it will not; no unit may be begun.

        """
        if self._journal is not None:
            await self._reach(self._journal.room)

    async def _reach(self, ask: Callable[[], Future[None]]) -> None:
        number = self._number
        with self._base.outside():
            await asyncio.wrap_future(ask())
        self._on_disk = number
