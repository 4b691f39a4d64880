"""Isolated inputs: raw edges with their time stamps, and levels that have been quiet for a while."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable
from typing import Any

from gpiozero import InputDevice
from gpiozero.pins import Factory

from hal.timing import GRAIN_S
from hal.waits import Waits
from wiring.lines import InputLine, Level

_OLDEST_S = 60.0
"""A GPIO library may stamp edges on a clock of its own; older than this is not the loop's clock."""

EdgeHandler = Callable[[bool, float], None]
"""Told whether the input is active now, and the loop time of the edge in seconds."""


class Input:
    """One input line; every edge is told twice, at once and on the loop.

    `first` is called in whatever thread saw the edge, before anything else: it belongs to the interlock.
    `on_edge` listeners are called on the loop's thread. An error in either goes to `on_error`, never back
    into the GPIO library, where it could silence every other input.
    """

    def __init__(
        self,
        line: InputLine,
        pin_factory: Factory,
        loop: asyncio.AbstractEventLoop,
        *,
        on_error: Callable[[BaseException], None],
        first: EdgeHandler | None = None,
        pulled_active: bool = False,
    ) -> None:
        self.on_edge: list[EdgeHandler] = []
        self.last_edge_s = float("-inf")
        self._active_level = line.active is Level.HIGH
        self._loop = loop
        self._thread = threading.get_ident()
        self._first = first
        self._on_error = on_error
        fixed = pin_factory.pin(line.line).info.pull
        pull_up = fixed == "up" if fixed else pulled_active is self._active_level
        self._device = InputDevice(line.line, pull_up=pull_up, pin_factory=pin_factory)
        self._pin = self._device.pin
        self._pin.edges = "both"
        # The pin keeps this handler by a weak reference: it lives as long as this object.
        self._pin.when_changed = self._changed

    def __repr__(self) -> str:
        return f"<Input {self._device!r}>"

    @property
    def active(self) -> bool:
        """The level now, read from the line."""
        return bool(self._pin.state) is self._active_level

    @property
    def closed(self) -> bool:
        """Whether the line was given back."""
        return bool(self._device.closed)

    def close(self) -> None:
        """Give the line back; safe to call twice."""
        self._device.close()

    def _changed(self, ticks: float, state: Any) -> None:
        try:
            active = bool(state) is self._active_level
            now_s = self._loop.time()
            at_s = ticks if 0.0 <= now_s - ticks < _OLDEST_S else now_s
            if self._first is not None:
                self._first(active, at_s)
            if threading.get_ident() == self._thread:
                self._tell(active, at_s)
            else:
                self._loop.call_soon_threadsafe(self._tell, active, at_s)
        except Exception as error:
            self._on_error(error)

    def _tell(self, active: bool, at_s: float) -> None:
        self.last_edge_s = at_s
        try:
            for listener in self.on_edge:
                listener(active, at_s)
        except Exception as error:
            self._on_error(error)


class QuietInput:
    """An input behind a filter: its level counts once no edge has come for `quiet_s` seconds.

    The filter works on time stamps, and reads the line again when the window ends, so that merged or lost
    edges do no harm. A change is stamped with the first edge of its burst.
    """

    def __init__(
        self, source: Input, loop: asyncio.AbstractEventLoop, waits: Waits, *, quiet_s: float
    ) -> None:
        self.active = source.active
        self.on_change: list[EdgeHandler] = []
        self._source = source
        self._loop = loop
        self._waits = waits
        self._quiet_s = quiet_s
        self._burst_s: float | None = None
        self._last_s = float("-inf")
        self._on_quiet: list[EdgeHandler] = []
        source.on_edge.append(self._edge)

    async def wait_for(self, active: bool, timeout_s: float | None = None) -> float | None:
        """Wait for the level; returns the loop time at which it came, None after `timeout_s` seconds.

        Returns now if the level is there already. Raises `Tripped`.
        """
        if self.active is active and self._burst_s is None:
            return self._loop.time()
        arrived: asyncio.Future[float] = self._loop.create_future()

        def arrive(level: bool, at_s: float) -> None:
            if level is active and not arrived.done():
                arrived.set_result(at_s)

        self._on_quiet.append(arrive)
        try:
            return await self._waits.until(arrived, timeout_s)
        finally:
            self._on_quiet.remove(arrive)

    def _edge(self, _active: bool, at_s: float) -> None:
        self._last_s = at_s
        if self._burst_s is None:
            self._burst_s = at_s
            self._loop.call_at(at_s + self._quiet_s, self._window_over)

    def _window_over(self) -> None:
        if self._source.closed:  # in the middle of a burst; there is no line left to read
            return
        quiet_from_s = self._last_s + self._quiet_s
        if quiet_from_s > self._loop.time() + GRAIN_S:
            self._loop.call_at(quiet_from_s, self._window_over)
            return
        began_s, self._burst_s = self._burst_s, None
        assert began_s is not None
        changed = self._source.active is not self.active
        self.active ^= changed
        for listener in (*self._on_quiet, *(self.on_change if changed else ())):
            listener(self.active, began_s)


class RailPair:
    """Two inputs on one wire, one for each rail."""

    def __init__(self, plus: Input, minus: Input) -> None:
        self.on_edge: list[Callable[[bool, bool, float], None]] = []
        self._plus = plus
        self._minus = minus
        self._told_plus, self._told_minus = plus.active, minus.active
        plus.on_edge.append(self._plus_edge)
        minus.on_edge.append(self._minus_edge)

    @property
    def levels(self) -> tuple[bool, bool]:
        """Whether the wire is at L+, and whether it is at L-, read from the lines now."""
        return self._plus.active, self._minus.active

    @property
    def last_edge_s(self) -> float:
        """Loop time of the last edge on either input."""
        return max(self._plus.last_edge_s, self._minus.last_edge_s)

    def close(self) -> None:
        """Give both lines back."""
        self._plus.close()
        self._minus.close()

    def _plus_edge(self, active: bool, at_s: float) -> None:
        self._told_plus = active
        self._tell(at_s)

    def _minus_edge(self, active: bool, at_s: float) -> None:
        self._told_minus = active
        self._tell(at_s)

    def _tell(self, at_s: float) -> None:
        for listener in self.on_edge:
            listener(self._told_plus, self._told_minus, at_s)
