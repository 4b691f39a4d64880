"""A unit's LED, and the pick-up that is clipped over it."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterable, Iterator
from enum import StrEnum
from itertools import cycle

from hal.simulated.clock import NS
from hal.simulated.timeline import Event, Timeline

_MS = NS // 1000

Step = tuple[bool, int]
"""Lit or dark, and for how many nanoseconds."""


class Led:
    """Shows the output state, or plays a pattern and then shows the output state again."""

    def __init__(self, timeline: Timeline, on_change: Callable[[], None], *, works: bool = True) -> None:
        self.lit = False
        self._timeline = timeline
        self._on_change = on_change
        self._works = works
        self._usual = False
        self._steps: Iterator[Step] | None = None
        self._next: Event | None = None
        self._end: Event | None = None

    def follow(self, lit: bool) -> None:
        """Show this when no pattern is played."""
        self._usual = lit
        if self._steps is None:
            self._show(lit)

    def normal(self) -> None:
        """Stop any pattern."""
        self._stop()
        self._show(self._usual)

    def hold(self, lit: bool) -> None:
        """Stay lit or dark whatever the output does."""
        self._play([(lit, 10_000 * NS)])

    def flash(self, rate_hz: float, for_s: float = math.inf) -> None:
        """Flash evenly, for good or for some time."""
        half_ns = round(NS / rate_hz / 2)
        self._play(cycle([(True, half_ns), (False, half_ns)]))
        if for_s < math.inf:
            self.end_after(for_s)

    def blink(self, count: int) -> None:
        """Give `count` short flashes between two dark pauses, so that they can be counted."""
        self._play([(False, 300 * _MS), *[(True, 200 * _MS), (False, 200 * _MS)] * count, (False, 700 * _MS)])

    def end_after(self, seconds: float) -> None:
        """Go back to the output state in `seconds`."""
        self._end = self._timeline.after(round(seconds * NS), self.normal)

    def _play(self, steps: Iterable[Step]) -> None:
        self._stop()
        self._steps = iter(steps)
        self._step()

    def _step(self) -> None:
        assert self._steps is not None
        step = next(self._steps, None)
        if step is None:
            self.normal()
        else:
            self._show(step[0])
            self._next = self._timeline.after(step[1], self._step)

    def _stop(self) -> None:
        self._steps = None
        for event in (self._next, self._end):
            if event is not None:
                event.cancel()

    def _show(self, lit: bool) -> None:
        lit = lit and self._works
        if lit != self.lit:
            self.lit = lit
            self._on_change()


class Ambient(StrEnum):
    """The light in the room."""

    DARK = "dark"
    DAYLIGHT = "daylight"
    MAINS_50 = "mains-50"
    MAINS_60 = "mains-60"


_MAINS_HZ = {Ambient.MAINS_50: 100.0, Ambient.MAINS_60: 120.0}  # lamps flicker at twice the mains
_FLICKER_NS = 3 * _MS


class PickUp:
    """A phototransistor with a comparator: high when it sees light."""

    def __init__(
        self,
        timeline: Timeline,
        draw: random.Random,
        show: Callable[[bool], None],
        *,
        ambient: Ambient,
        leaks: bool,
    ) -> None:
        self._timeline = timeline
        self._draw = draw
        self._show = show
        self._ambient = ambient
        self._leaks = leaks
        self._attached = True
        self._lit = False
        self._flicker: Event | None = None

    def see(self, lit: bool) -> None:
        """Take in what the LED does."""
        self._lit = lit
        self._look()

    def attach(self, attached: bool) -> None:
        """Clip it over the LED, or let it fall off."""
        self._attached = attached
        self._look()

    def _look(self) -> None:
        if self._flicker is not None:
            self._flicker.cancel()
        if self._attached and (self._lit or not self._leaks or self._ambient not in _MAINS_HZ):
            self._show(self._lit)
        elif self._ambient in _MAINS_HZ:
            self._lamp(False)
        else:
            self._show(self._ambient is Ambient.DAYLIGHT)

    def _lamp(self, bright: bool) -> None:
        self._show(bright)
        high_ns = round(_FLICKER_NS * self._draw.uniform(0.85, 1.15))
        if bright:
            self._flicker = self._timeline.after(high_ns, self._darken)
        else:
            period_ns = round(NS / _MAINS_HZ[self._ambient])
            self._flicker = self._timeline.after(period_ns - high_ns, self._brighten)

    def _brighten(self) -> None:
        self._lamp(True)

    def _darken(self) -> None:
        self._lamp(False)
