"""The heartbeat: beaten by the engine's own loop, so that a stuck engine drops every relay in hardware."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from math import inf
from threading import RLock

from wiring.parts import CoilSupply

_LONGEST_PAUSE = 0.9
"""Part of the monostable's nominal time after which it may have dropped (common practice, no source)."""

_SHORTEST_GAP = 0.25


class Heartbeat:
    """Toggles its output every `beat_s`; each rising edge retriggers the monostable of the coil supply.

    `on_late` is told the pause in seconds when the loop was held up for so long that the coils may have
    dropped. `on_fault` is told when the output cannot be written.
    """

    def __init__(
        self,
        write: Callable[[bool], None],
        timing: CoilSupply,
        loop: asyncio.AbstractEventLoop,
        lock: RLock,
        *,
        on_late: Callable[[float], None],
        on_fault: Callable[[Exception], None],
    ) -> None:
        self._write = write
        self._beat_s = timing.beat_s
        self._period_s = 2 * timing.beat_s
        self._shortest_gap_s = _SHORTEST_GAP * timing.beat_s
        self._longest_pause_s = timing.dropout_s * _LONGEST_PAUSE
        self._time = loop.time
        self._call_at = loop.call_at
        self._lock = lock
        self._on_late = on_late
        self._on_fault = on_fault
        self._beating = False
        self._level = False
        self._rose_s = -inf
        self._next: asyncio.TimerHandle | None = None

    @property
    def rose_s(self) -> float:
        """Loop time of the last pulse."""
        return self._rose_s

    def start(self) -> None:
        """Beat at once, and go on until `stop`."""
        if self._next is not None:
            self._next.cancel()
        self._level = False
        self._rose_s = self._time()
        self._beating = True
        self._beat()

    def stop(self) -> None:
        """Beat no more; safe from any thread. The level is left to whoever switches everything off."""
        self._beating = False

    def pause_s(self) -> float | None:
        """How long a beating heart has paused, if for longer than the coils are sure to hold; else None."""
        pause_s = self._time() - self._rose_s
        return pause_s if self._beating and pause_s > self._longest_pause_s else None

    def _beat(self) -> None:
        with self._lock:
            if not self._beating:
                return
            now_s = self._time()
            if now_s - self._rose_s > self._longest_pause_s:
                self._on_late(now_s - self._rose_s)
                return
            try:
                level = self._level = not self._level
                self._write(level)
            except Exception as error:
                self._on_fault(error)
                return
            if not self._beating:
                # The write itself may have shown a cause to trip; no pulse may outlive that.
                self._write(False)
                return
            if level:
                self._rose_s = now_s
                due_s = now_s + self._beat_s
            else:
                # A late fall must not put off the next pulse.
                due_s = max(self._rose_s + self._period_s, now_s + self._shortest_gap_s)
            self._next = self._call_at(due_s, self._beat)
