"""Relays as they are: slow, bouncing, and sometimes stuck."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from typing import Protocol

from hal.simulated.clock import NS
from hal.simulated.pins import SimulatedPins
from hal.simulated.record import Place, Record, RelayMoved
from hal.simulated.timeline import Event, Timeline
from wiring.profile import Level, OutputLine, RelayLine


class CoilVoltage(Protocol):
    """Whether the relay coils have a supply."""

    live: bool
    on_change: list[Callable[[], None]]


def drives_high(line: OutputLine) -> bool:
    """Whether a high level means 'on' for a line."""
    return line.active is Level.HIGH


class Relay:
    """A coil on a pin and one moving contact.

    A normally open relay bounces once when it closes. A change-over relay leaves one side before it reaches
    the other. The data sheet's times are the longest; this one draws times up to them, except that a
    change-over leaves its working side exactly when stated, since profiles rely on it not being faster.
    """

    def __init__(
        self,
        name: str,
        line: RelayLine,
        pins: SimulatedPins,
        timeline: Timeline,
        coils: CoilVoltage,
        record: Record,
        draw: random.Random,
        on_move: Callable[[], None],
        *,
        change_over: bool = False,
    ) -> None:
        self.name = name
        self.place = Place.REST
        self.welded = False
        self.stuck = False
        self.dead = False
        self.slowness = 1.0
        self._line = line
        self._timeline = timeline
        self._coils = coils
        self._record = record
        self._draw = draw
        self._on_move = on_move
        self._change_over = change_over
        self._commanded = False
        self._pulled = False
        self._travel: Event | None = None
        high = drives_high(line)
        pins.pin(line.line).connect(lambda level: self._command(level == high), idle=0 if high else 1)
        coils.on_change.append(self._pull)

    @property
    def closed(self) -> bool:
        """Whether the working contact is closed."""
        return self.place is Place.WORK

    def review(self) -> None:
        """Let a change of `welded`, `stuck` or `dead` take effect.

        A welded contact closes but does not open again, a stuck one stays where it is, a dead coil never pulls.
        """
        self._pull()
        self._start(self._pulled)

    def _command(self, on: bool) -> None:
        self._commanded = on
        self._pull()

    def _pull(self) -> None:
        pulled = self._commanded and self._coils.live and not self.dead
        if pulled is not self._pulled:
            self._pulled = pulled
            self._start(pulled)

    def _start(self, pulled: bool) -> None:
        if self._travel is not None:
            self._travel.cancel()
        if self.place is not (Place.WORK if pulled else Place.REST):
            steps = self._closing() if pulled else self._opening()
            start_ns = self._timeline.now_ns
            self._go([(start_ns + round(s * self.slowness * NS), place) for s, place in steps])

    def _closing(self) -> list[tuple[float, Place]]:
        line, draw = self._line, self._draw.uniform
        close_s = line.operate_s * draw(0.85, 1.0)
        if self._change_over:
            return [(line.operate_s * 0.6, Place.BETWEEN), (close_s, Place.WORK)]
        open_s = close_s + line.bounce_s * draw(0.1, 0.4)
        again_s = open_s + line.bounce_s * draw(0.1, 0.5)
        return [(close_s, Place.WORK), (open_s, Place.BETWEEN), (again_s, Place.WORK)]

    def _opening(self) -> list[tuple[float, Place]]:
        line = self._line
        if self._change_over:
            return [(line.release_s, Place.BETWEEN), (line.release_s + line.bounce_s * 0.5, Place.REST)]
        return [(line.release_s * self._draw.uniform(0.7, 1.0), Place.REST)]

    def _go(self, steps: Sequence[tuple[int, Place]]) -> None:
        (when_ns, place), *rest = steps
        self._travel = self._timeline.at(when_ns, lambda: self._arrive(place, rest))

    def _arrive(self, place: Place, rest: Sequence[tuple[int, Place]]) -> None:
        if place is not self.place and not self.stuck and not (self.welded and self.closed):
            self.place = place
            self._record.relays.append(RelayMoved(self.name, self._timeline.now_ns, place))
            self._on_move()
        if rest:
            self._go(rest)
