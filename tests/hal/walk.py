"""Every state that the bench rules let a teach path reach, with real relays and one broken one.

The walk drives the pure rules with an abstract relay model, in ticks of 5 ms. A relay that is switched moves,
bounces (then it may be read either way) and rests. One relay may break, at any moment. The loop may be held up
for a tick or two, so that neither edges nor timers are looked at in time; commands may come all the same.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from math import inf
from typing import NamedTuple

from hal.errors import TripKind
from hal.interlock import rules
from hal.interlock.rules import Command, Condition, Following, Job, TeachPath, WireState
from hal.timing import GRAIN_S
from wiring.lines import RelayLine
from wiring.nest import Topology

TICK_S = 0.005
DEAD = 4
LONGEST = 7
HELD_UP = 2
TOO_LONG = LONGEST + HELD_UP + 1


class Times(RelayLine):
    """Compared and hashed by identity, for speed: there are only two."""

    def __eq__(self, other: object) -> bool:
        return self is other

    def __hash__(self) -> int:
        return id(self)


CONTACT = Times(line="GPIO5", operate_s=TICK_S, release_s=TICK_S, bounce_s=TICK_S)
SELECTOR = Times(line="GPIO6", operate_s=TICK_S, release_s=3 * TICK_S, bounce_s=TICK_S)


class Fault(StrEnum):
    NONE = "none"
    WELDED = "welded"
    DEAD = "dead"
    SLOW = "slow"  # slower than its data sheet, but not than the dead time


class Relay(NamedTuple):
    """What the copper does: `place` now, `target` after `ticks` (the last of them bouncing)."""

    place: bool = False
    target: bool = False
    ticks: int = 0
    dropped: bool = False  # this motion was not commanded
    fault: Fault = Fault.NONE

    @property
    def moving(self) -> bool:
        return self.ticks > 0

    @property
    def may_be_closed(self) -> bool:
        return self.place or (self.moving and self.ticks == 1 and self.target)

    @property
    def readings(self) -> tuple[bool, ...]:
        if self.moving and self.ticks == 1:
            return (False, True)
        return (self.place,)

    def switched(self, on: bool, times: RelayLine, *, dropped: bool) -> Relay:
        sticks = (self.fault is Fault.DEAD and on) or (self.fault is Fault.WELDED and self.place and not on)
        if on == self.target or sticks:
            return self
        slow = self.fault is Fault.SLOW
        move_s = times.operate_s if on else times.release_s
        ticks = DEAD if slow else round((move_s + times.bounce_s) / TICK_S)
        return self._replace(target=on, ticks=ticks, dropped=dropped)

    def ticked(self) -> Relay:
        if not self.moving:
            return self
        ticks = self.ticks - 1
        return self._replace(ticks=ticks, place=self.target if ticks == 0 else self.place)

    def struck(self, fault: Fault) -> Relay:
        """The relay breaks: welded where it is, or no longer able to close."""
        if fault is Fault.WELDED and self.place:
            return self._replace(fault=fault, target=True, ticks=0)
        return self._replace(fault=fault)


class State(NamedTuple):
    """Rules' view and copper, at time zero: all times in `path` are relative to now."""

    path: TeachPath
    first: Relay = Relay()
    second: Relay = Relay()
    condition: Condition = Condition.ARMED
    coils: bool = True
    unseen: int = 0
    closed_ticks: int = 0


@dataclass(slots=True)
class Walk:
    states: int = 0
    refusals: int = 0
    trips: int = 0
    violation: str = ""


def walk(topology: Topology, fault: Fault, broken: str = "second") -> Walk:
    """Go through every reachable state; stops at the first violation."""
    for pure in (_refusal, _after_command, _after_all_off, _misreading, _rebased):
        pure.cache_clear()
    start = State(_start_path(topology))
    seen = {start}
    queue = deque([start])
    result = Walk()
    while queue and not result.violation:
        for state in _successors(queue.popleft(), fault, broken, result):
            if state not in seen:
                seen.add(state)
                queue.append(state)
                result.violation = result.violation or violation(state)
    result.states = len(seen)
    return result


def violation(state: State) -> str:
    """Which of the things that may never happen is happening."""
    path, first, second = state.path, state.first, state.second
    if path.topology is Topology.TWO_RELAY and first.may_be_closed and second.may_be_closed:
        return "L+ joined to L-"
    if path.topology is Topology.SELECTOR and first.moving and second.may_be_closed:
        # Off needs no power and no program: when everything drops at once, nothing can hold the selector
        # back behind a contact that is broken. A sound one opens first.
        falling = not first.target and first.ticks > 1
        broken = second.fault in (Fault.WELDED, Fault.SLOW)
        if not (first.dropped and (falling or broken)):
            return "the selector moves under a closed contact"
    if state.condition is not Condition.ARMED and (path.first.on or path.second.on):
        return f"an output is on while {state.condition}"
    if state.closed_ticks >= TOO_LONG:
        return "a contact is closed for too long"
    overdue = state.unseen == 0 and path.wire.by_s + GRAIN_S < 0.0
    if overdue and state.condition is not Condition.TRIPPED and _wires(state).isdisjoint({path.wire.wanted}):
        return "the work goes on although the read-back disagrees"
    return ""


def _start_path(topology: Topology) -> TeachPath:
    jobs = {
        Topology.SELECTOR: (Job.RAIL_SELECTOR, SELECTOR, Job.TEACH_CONTACT, CONTACT),
        Topology.TWO_RELAY: (Job.PLUS_CONTACT, CONTACT, Job.MINUS_CONTACT, CONTACT),
    }
    first, first_times, second, second_times = jobs[topology]
    long_ago_s = -DEAD * TICK_S
    return TeachPath(
        topology,
        DEAD * TICK_S,
        rules.TeachRelay(first, first_times, since_s=long_ago_s),
        rules.TeachRelay(second, second_times, since_s=long_ago_s),
    )


def _successors(state: State, fault: Fault, broken: str, result: Walk) -> Iterator[State]:
    yield from _ticks(state, result)
    yield from _commands(state, result)
    yield _tripped(state)
    if state.condition is Condition.ARMED:
        yield _all_off(state)._replace(condition=Condition.RESTING)
    if state.condition is Condition.TRIPPED and WireState.FLOATING in _wires(state):
        yield state._replace(condition=Condition.RESTING)
    if state.condition is Condition.RESTING:
        yield state._replace(condition=Condition.ARMED, coils=True)
    if state.coils:
        yield _dropped(state._replace(coils=False))
    relay: Relay = getattr(state, broken)
    if fault is not Fault.NONE and relay.fault is Fault.NONE:
        yield _with_relay(state, broken, relay.struck(fault))


def _commands(state: State, result: Walk) -> Iterator[State]:
    for job in (state.path.first.job, state.path.second.job):
        for on in (True, False):
            for longest_s in (LONGEST * TICK_S, None) if on else (None,):
                yield from _commanded(state, Command(job, on, longest_s), result)


def _commanded(state: State, command: Command, result: Walk) -> Iterator[State]:
    for wire in _wires(state):
        if _refusal(state.condition, state.path, command, wire) is not None:
            result.refusals += 1
            continue
        path = _after_command(state.path, command)
        if path is state.path:
            continue
        which = "first" if command.job is path.first.job else "second"
        relay: Relay = getattr(state, which)
        if state.coils:
            relay = relay.switched(command.on, path.relay(command.job).times, dropped=False)
        yield _with_relay(state._replace(path=path), which, relay)


def _with_relay(state: State, which: str, relay: Relay) -> State:
    return state._replace(first=relay) if which == "first" else state._replace(second=relay)


def _all_off(state: State) -> State:
    path = _after_all_off(state.path)
    return _dropped(state._replace(path=path))


def _tripped(state: State) -> State:
    return _all_off(state)._replace(condition=Condition.TRIPPED)


def _dropped(state: State) -> State:
    return state._replace(
        first=state.first.switched(False, state.path.first.times, dropped=True),
        second=state.second.switched(False, state.path.second.times, dropped=True),
    )


def _wires(state: State) -> set[WireState]:
    selector = state.path.topology is Topology.SELECTOR
    return {_wire(selector, one, two) for one in state.first.readings for two in state.second.readings}


def _wire(selector: bool, first: bool, second: bool) -> WireState:
    if selector:
        return WireState.read(second and first, second and not first)
    return WireState.read(first, second)


def _ticks(state: State, result: Walk) -> Iterator[State]:
    later = state._replace(
        path=_rebased(state.path),
        first=state.first.ticked(),
        second=state.second.ticked(),
        closed_ticks=min(state.closed_ticks + 1, TOO_LONG) if _sound_contact_closed(state) else 0,
    )
    for wire in _wires(later):
        looked_at = _looked_at(later, wire)
        result.trips += looked_at.condition is Condition.TRIPPED
        yield looked_at._replace(unseen=0)
    if state.unseen < HELD_UP:
        yield later._replace(unseen=state.unseen + 1)


def _sound_contact_closed(state: State) -> bool:
    contacts = (state.second,) if state.path.topology is Topology.SELECTOR else (state.first, state.second)
    return any(contact.may_be_closed and contact.fault in (Fault.NONE, Fault.DEAD) for contact in contacts)


def _looked_at(state: State, wire: WireState) -> State:
    following = state.path.wire
    if _misreading(following, wire) is not None or state.path.open_by_s <= GRAIN_S:
        return _tripped(state)
    if following.by_s + GRAIN_S < 0.0 and not following.arrived:
        return state._replace(path=replace(state.path, wire=replace(following, arrived=True)))
    return state


@cache
def _refusal(condition: Condition, path: TeachPath, command: Command, wire: WireState) -> str | None:
    return rules.refusal(condition, path, command, wire, 0.0)


@cache
def _after_command(path: TeachPath, command: Command) -> TeachPath:
    return rules.after_command(path, command, 0.0)


@cache
def _after_all_off(path: TeachPath) -> TeachPath:
    return rules.after_all_off(path, 0.0)


@cache
def _misreading(following: Following[WireState], wire: WireState) -> TripKind | None:
    return rules.misreading(following, wire, 0.0)


@cache
def _rebased(path: TeachPath) -> TeachPath:
    """The same path one tick later, with times that no longer matter made equal."""
    wire = path.wire
    by_s = _shifted(wire.by_s, -TICK_S)
    return replace(
        path,
        first=replace(path.first, since_s=_shifted(path.first.since_s, -DEAD * TICK_S)),
        second=replace(path.second, since_s=_shifted(path.second.since_s, -DEAD * TICK_S)),
        wire=Following(wire.was, wire.wanted, by_s, wire.arrived),
        open_by_s=path.open_by_s if path.open_by_s == inf else _shifted(path.open_by_s, -TICK_S),
    )


def _shifted(when_s: float, oldest_s: float) -> float:
    return when_s if when_s <= oldest_s else round(max(when_s - TICK_S, oldest_s), 6)
