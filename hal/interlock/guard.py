"""One nest under guard: what its contacts do is compared with what they were told, edge by edge."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace
from math import inf
from threading import RLock
from typing import TypeVar

from gpiozero.pins import Factory

from hal.errors import TripCause
from hal.inputs import EdgeHandler, Input, RailPair
from hal.interlock import causes, rules
from hal.interlock.rules import READBACK_MARGIN_S, Command, Condition, Following, Job, WireState
from hal.timing import GRAIN_S
from wiring.lines import InputLine
from wiring.nest import NestProfile

T = TypeVar("T")

_PAST_S = 2 * GRAIN_S


class NestGuard:
    """Keeps the teach path and the supply relay of one nest to the rules, and trips when they are not kept.

    Edges are judged in whatever thread saw them; commands and timers belong to the loop's thread.
    `load_on` is what the load relay was told last, `load_quiet_s` when it has followed. `on_checked` listeners are
    told, on the loop, when the wire has been read again and follows its command.
    """

    def __init__(
        self,
        nest: NestProfile,
        dead_time_s: float,
        pin_factory: Factory,
        loop: asyncio.AbstractEventLoop,
        lock: RLock,
        *,
        trip: Callable[[TripCause], None],
        on_error: Callable[[BaseException], None],
    ) -> None:
        self.on_checked: list[Callable[[WireState, float], None]] = []
        self.path = rules.open_path(nest, dead_time_s)
        self.supply = Following(False, False)
        self.load_on = False
        self.load_quiet_s = -inf
        self._nest = nest
        self._loop = loop
        self._lock = lock
        self._trip = trip
        self._on_error = on_error
        self._timers: dict[Callable[[], None], asyncio.TimerHandle] = {}

        def guarded(line: InputLine, first: EdgeHandler) -> Input:
            return Input(line, pin_factory, loop, on_error=on_error, first=first)

        self.teach_wire = RailPair(
            guarded(nest.teach_at_plus, self._plus_edge), guarded(nest.teach_at_minus, self._minus_edge)
        )
        self._at_plus, self._at_minus = self.teach_wire.levels
        self.supply_sense = (
            None if nest.supply_sense is None else guarded(nest.supply_sense, self._supply_edge)
        )

    @property
    def wire(self) -> WireState:
        """The teach wire as the inputs read it now."""
        return WireState.read(*self.teach_wire.levels)

    @property
    def holds(self) -> bool:
        """Whether the unit is commanded to have its supply, or a contact to be closed."""
        return self.supply.wanted or self.path.closed_contact is not None

    @property
    def settled_s(self) -> float:
        """The time by which everything switched so far has followed."""
        return max(self.path.wire.by_s, self.supply.by_s)

    def refusal(self, condition: Condition, command: Command, now_s: float) -> str | None:
        """Tell which rule the command would break; None if it may be carried out."""
        if command.job in (self.path.first.job, self.path.second.job):
            return rules.refusal(condition, self.path, command, self.wire, now_s)
        return rules.free_refusal(condition, command)

    def note(self, command: Command, now_s: float) -> None:
        """Expect what the command will do; called just before the output is written."""
        if command.job is Job.SUPPLY:
            self._note_supply(command.on, now_s)
        elif command.job is Job.LOAD:
            self._note_load(command.on, now_s)
        else:
            self.path = rules.after_command(self.path, command, now_s)

    def note_all_off(self, now_s: float) -> None:
        """Expect everything to drop."""
        self.path = rules.after_all_off(self.path, now_s)
        self._note_supply(False, now_s)
        self._note_load(False, now_s)

    def watch(self) -> None:
        """Set the timers for what is expected now, and read again what has arrived before.

        To be called on the loop's thread, after the output was written.
        """
        self._check(self.path.wire, self._check_wire)
        self._at(self.path.open_by_s, self._check_length)
        if self.supply_sense is not None:
            self._check(self.supply, self._check_supply)

    def obstacle(self) -> TripCause | None:
        """What does not look like a nest at rest; None if all is well."""
        kind = rules.misreading(self.path.wire, self.wire, inf)
        if kind is not None:
            return causes.misread_wire(kind, self.wire, self.path.wire.wanted, self._nest.name)
        if self.supply_sense is not None and self.supply_sense.active:
            return causes.supply_welded(self._nest.name)
        return None

    def close(self) -> None:
        """Stop the timers and give the lines back."""
        for timer in self._timers.values():
            timer.cancel()
        self.teach_wire.close()
        if self.supply_sense is not None:
            self.supply_sense.close()

    def _note_supply(self, on: bool, now_s: float) -> None:
        if self.supply_sense is not None and self.supply.wanted is not on:
            relay = self._nest.supply
            follow_s = relay.operate_s + relay.bounce_s if on else relay.released_s
            self.supply = self.supply.towards(on, now_s + follow_s + READBACK_MARGIN_S)

    def _note_load(self, on: bool, now_s: float) -> None:
        if on is not self.load_on:
            self.load_on, self.load_quiet_s = on, now_s + self._nest.load.settle_s

    def _check(self, following: Following[T], check: Callable[[], None]) -> None:
        if following.arrived:
            self._run(check)
        else:
            self._at(following.by_s + _PAST_S, check)

    def _at(self, when_s: float, check: Callable[[], None]) -> None:
        timer = self._timers.get(check)
        if timer is not None:
            if timer.when() == when_s:
                return
            timer.cancel()
            del self._timers[check]
        if when_s < inf:
            self._timers[check] = self._loop.call_at(when_s, self._run, check)

    def _run(self, check: Callable[[], None]) -> None:
        self._timers.pop(check, None)
        try:
            with self._lock:
                check()
        except Exception as error:
            self._on_error(error)

    # -- what was seen ---------------------------------------------------------------------------------------

    def _plus_edge(self, active: bool, at_s: float) -> None:
        with self._lock:
            self._at_plus = active
            self._judge_wire(at_s)

    def _minus_edge(self, active: bool, at_s: float) -> None:
        with self._lock:
            self._at_minus = active
            self._judge_wire(at_s)

    def _supply_edge(self, active: bool, at_s: float) -> None:
        with self._lock:
            self._judge_supply(active, at_s)

    def _check_wire(self) -> None:
        self._at_plus, self._at_minus = self.teach_wire.levels
        if self._judge_wire(self._loop.time()) and not self.path.wire.arrived:
            self.path = replace(self.path, wire=replace(self.path.wire, arrived=True))
            for listener in self.on_checked:
                listener(self.path.wire.wanted, self._loop.time())

    def _check_supply(self) -> None:
        assert self.supply_sense is not None
        if self._judge_supply(self.supply_sense.active, self._loop.time()) and not self.supply.arrived:
            self.supply = replace(self.supply, arrived=True)

    def _check_length(self) -> None:
        self._trip(causes.contact_too_long(self._nest.name))

    def _judge_wire(self, at_s: float) -> bool:
        seen = WireState.read(self._at_plus, self._at_minus)
        kind = rules.misreading(self.path.wire, seen, at_s)
        if kind is not None:
            self._trip(causes.misread_wire(kind, seen, self.path.wire.wanted, self._nest.name))
        return kind is None

    def _judge_supply(self, active: bool, at_s: float) -> bool:
        fits = self.supply.fits(active, at_s)
        if not fits:
            what = causes.supply_dead if self.supply.wanted else causes.supply_welded
            self._trip(what(self._nest.name))
        return fits
