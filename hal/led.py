"""The LED pick-up: what the unit's LED does, and waiting for it to do something."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from math import inf

from hal.inputs import Input
from hal.rhythm import LedPattern, LightFilter, Reading, classify
from hal.timing import GRAIN_S
from hal.waits import Waits

__all__ = ["LedPattern", "LedPickup"]

_DOUBT_S = 0.01
"""An edge may still be under way when the level is read: only after this is it taken for lost."""


class LedPickup:
    """Tells the LED's pattern from the edges of its pick-up."""

    def __init__(self, source: Input, loop: asyncio.AbstractEventLoop, waits: Waits) -> None:
        self._source = source
        self._loop = loop
        self._waits = waits
        self._light = LightFilter(source.active, loop.time())
        self._doubt_s = inf
        self._looks: list[_Look] = []
        source.on_edge.append(self._edge)

    @property
    def pattern(self) -> LedPattern:
        """The pattern now, from all that was seen so far; `unclear` while it may still be several."""
        return self.read(-inf).pattern

    async def wait_for(
        self, predicate: Callable[[LedPattern], bool], timeout_s: float | None = None
    ) -> LedPattern | None:
        """Wait for a pattern that satisfies `predicate`; None after `timeout_s` seconds.

        Only what the LED does from now on counts: an answer to an earlier question is none to this one.
        Raises `Tripped`.
        """
        look = _Look(self, predicate, self._loop)
        self._looks.append(look)
        try:
            look.again()
            return await self._waits.until(look.found, timeout_s)
        finally:
            self._looks.remove(look)
            look.end()

    def read(self, since_s: float) -> Reading:
        """The pattern from what was seen after `since_s`, and when to look again."""
        now_s = self._loop.time()
        again_s = self._doubt(now_s)
        light = self._light
        pattern, look_again_s = classify(light.changes(since_s, now_s), now_s, noisy=light.noisy(now_s))
        undecided_s = light.undecided_until_s
        if undecided_s > now_s:
            look_again_s = min(look_again_s, undecided_s)
        return Reading(pattern, min(look_again_s, again_s))

    def close(self) -> None:
        """Give the line back."""
        self._source.close()

    def _edge(self, active: bool, at_s: float) -> None:
        self._doubt_s = inf
        changed = self._light.edge(active, at_s)
        for look in tuple(self._looks):
            if changed:
                look.again()
            elif active:
                look.at(self._light.undecided_until_s)

    def _doubt(self, now_s: float) -> float:
        """Read the line again, so that a lost edge does not mislead for ever; tells when to look again."""
        if self._source.active is self._light.level:
            self._doubt_s = inf
            return inf
        if now_s >= self._doubt_s:
            self._light.edge(not self._light.level, now_s, exact=False)
            self._doubt_s = inf
            return now_s
        self._doubt_s = min(self._doubt_s, now_s + _DOUBT_S)
        return self._doubt_s


class _Look:
    """One wait for a pattern: looks when a change was seen, and when time alone may decide."""

    def __init__(
        self, pickup: LedPickup, predicate: Callable[[LedPattern], bool], loop: asyncio.AbstractEventLoop
    ) -> None:
        self.found: asyncio.Future[LedPattern] = loop.create_future()
        self._pickup = pickup
        self._predicate = predicate
        self._loop = loop
        self._since_s = loop.time()
        self._timer: asyncio.TimerHandle | None = None

    def again(self) -> None:
        """Look now, and set the time for the next look."""
        self.end()
        if self.found.done():
            return
        try:
            pattern, again_s = self._pickup.read(self._since_s)
            if self._predicate(pattern):
                self.found.set_result(pattern)
            else:
                self.at(again_s)
        except Exception as error:
            self.found.set_exception(error)

    def at(self, when_s: float) -> None:
        """Look at `when_s` at the latest."""
        if self._timer is not None and self._timer.when() <= when_s:
            return
        self.end()
        if when_s < inf:
            # Beyond the moment, or rounding would make it look at the same moment for ever.
            self._timer = self._loop.call_at(when_s + GRAIN_S, self.again)

    def end(self) -> None:
        """Look no more by time."""
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None
