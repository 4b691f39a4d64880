"""The bench rules, pure: what is commanded and read back on a teach wire, and what may come next.

A `TeachPath` is frozen. `refusal` tells why a command would break a rule, `after_command` and `after_all_off`
give the next path, `misreading` tells what a read-back means that does not fit the commands.

Off is always allowed, and needs no rule: opening a contact, switching a supply off. Only the rail selector
counts as moving in both directions. When everything drops at once (trip, stop button, lost coil supply) no
rule can hold the selector back; there its slower release keeps it behind the contact, as the rig profile
demands, unless the contact is welded.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from enum import StrEnum
from math import inf
from typing import Generic, TypeVar

from hal.errors import TripKind
from hal.timing import GRAIN_S
from wiring.lines import RelayLine
from wiring.nest import NestProfile, Topology
from wiring.terms import Rail

T = TypeVar("T")

READBACK_MARGIN_S = 0.005
"""Time for the isolated input and the loop to tell what a contact did (from memory, not from a data sheet)."""


class Condition(StrEnum):
    """What the interlock lets through."""

    RESTING = "resting"
    ARMED = "armed"
    SILENT = "silent"
    TRIPPED = "tripped"


class Job(StrEnum):
    """What an output does; the words are the keys of the rig profile."""

    RAIL_SELECTOR = "rail_selector"
    TEACH_CONTACT = "teach_contact"
    PLUS_CONTACT = "plus_contact"
    MINUS_CONTACT = "minus_contact"
    SUPPLY = "supply"
    LOAD = "load"
    SWING = "swing"
    HEARTBEAT = "heartbeat"


CONTACTS = (Job.TEACH_CONTACT, Job.PLUS_CONTACT, Job.MINUS_CONTACT)


class WireState(StrEnum):
    """Where the teach wire is, as the two isolated inputs read it."""

    FLOATING = "floating"
    AT_PLUS = "at L+"
    AT_MINUS = "at L-"
    BOTH = "at both rails"

    @classmethod
    def read(cls, at_plus: bool, at_minus: bool) -> WireState:
        """Join the two inputs to one state."""
        return _WIRE_STATES[at_plus][at_minus]

    @classmethod
    def at(cls, rail: Rail) -> WireState:
        """The state of a wire held to `rail`."""
        return cls.AT_PLUS if rail is Rail.PLUS else cls.AT_MINUS


_WIRE_STATES = (
    (WireState.FLOATING, WireState.AT_MINUS),
    (WireState.AT_PLUS, WireState.BOTH),
)


@dataclass(frozen=True, slots=True)
class Command:
    """Switch one output; closing a teach contact needs the longest time it may stay closed, in seconds."""

    job: Job
    on: bool
    longest_s: float | None = None

    @property
    def needs_no_rule(self) -> bool:
        """Tell whether it is always allowed: every 'off', except that the rail selector moves both ways."""
        return not self.on and self.job is not Job.RAIL_SELECTOR


@dataclass(frozen=True, slots=True)
class Following(Generic[T]):
    """A reading that has to follow a command: from `was` to `wanted`, at the latest at `by_s`."""

    was: T
    wanted: T
    by_s: float = -inf
    arrived: bool = True

    def towards(self, wanted: T, by_s: float) -> Following[T]:
        """The same reading after another command."""
        return Following(self.wanted, wanted, by_s, arrived=False)

    def fits(self, seen: T, at_s: float) -> bool:
        """Tell whether `seen` may have been read at `at_s`."""
        return seen == self.wanted or (seen == self.was and at_s <= self.by_s + GRAIN_S)


@dataclass(frozen=True, slots=True)
class TeachRelay:
    """One relay of the teach path, as last commanded."""

    job: Job
    times: RelayLine
    on: bool = False
    since_s: float = -inf


@dataclass(frozen=True, slots=True)
class TeachPath:
    """All that is commanded and read back on one teach wire.

    `first` and `second` are rail selector and teach contact, or plus contact and minus contact.
    """

    topology: Topology
    dead_time_s: float
    first: TeachRelay
    second: TeachRelay
    wire: Following[WireState] = Following(WireState.FLOATING, WireState.FLOATING)
    open_by_s: float = inf

    def relay(self, job: Job) -> TeachRelay:
        """The relay that does `job`."""
        return self.first if self.first.job is job else self.second

    def other(self, job: Job) -> TeachRelay:
        """The relay that does not do `job`."""
        return self.second if self.first.job is job else self.first

    @property
    def closed_contact(self) -> TeachRelay | None:
        """The contact that is commanded closed."""
        return next(
            (relay for relay in (self.first, self.second) if relay.on and relay.job in CONTACTS), None
        )


def open_path(nest: NestProfile, dead_time_s: float) -> TeachPath:
    """The path of a nest whose relays have been off for ever."""
    jobs = (
        (Job.RAIL_SELECTOR, Job.TEACH_CONTACT)
        if nest.topology is Topology.SELECTOR
        else (Job.PLUS_CONTACT, Job.MINUS_CONTACT)
    )
    first, second = (TeachRelay(job, times) for job, times in zip(jobs, nest.teach_relays, strict=True))
    return TeachPath(nest.topology, dead_time_s, first, second)


# -- the rules -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Look:
    """What a rule looks at: the command, and the moment it would be carried out in."""

    condition: Condition
    path: TeachPath
    command: Command
    wire: WireState
    now_s: float

    @property
    def moves_selector(self) -> bool:
        """Tell whether the rail selector would move, either way."""
        return self.command.job is Job.RAIL_SELECTOR

    @property
    def closes_contact(self) -> bool:
        """Tell whether a contact would close."""
        return self.command.on and self.command.job in CONTACTS


Rule = Callable[[Look], str | None]


def free_refusal(condition: Condition, command: Command) -> str | None:
    """The one rule for outputs outside the teach path: nothing is energised unless armed."""
    if command.on and condition is not Condition.ARMED:
        return f"nothing may be switched on while {condition}"
    return None


def only_when_armed(look: Look) -> str | None:
    """Nothing is energised before arming or after a trip."""
    return free_refusal(look.condition, look.command)


def other_relay_at_rest(look: Look) -> str | None:
    """Neither relay of a path starts before the other has been still, a contact also off, for its time."""
    if not (look.moves_selector or look.closes_contact):
        return None
    other = look.path.other(look.command.job)
    if other.on and other.job in CONTACTS:
        return f"{other.job} is closed"
    if look.now_s < earliest_s(look.path, look.command.job) - GRAIN_S:
        return f"{other.job} was switched {look.now_s - other.since_s:.3f} s ago"
    return None


def wire_floats(look: Look) -> str | None:
    """No selector moves and no contact closes while the wire is read at a rail."""
    if (look.moves_selector or look.closes_contact) and look.wire is not WireState.FLOATING:
        return f"the teach wire is read {look.wire}"
    return None


def contact_has_opened(look: Look) -> str | None:
    """No contact closes again before it has been open: its longest time counts from the first closing."""
    relay = look.path.relay(look.command.job)
    open_s = look.now_s - relay.since_s
    if look.closes_contact and open_s < relay.times.settle_s - GRAIN_S:
        return f"{relay.job} was switched off only {open_s:.3f} s ago"
    return None


def contact_has_an_end(look: Look) -> str | None:
    """Every contact is closed with the time after which it is opened whatever happens."""
    if not look.closes_contact:
        return None
    shortest_s = look.path.relay(look.command.job).times.settle_s
    if look.command.longest_s is None or not shortest_s < look.command.longest_s < inf:
        return f"a contact needs a longest time above {shortest_s:g} s, got {look.command.longest_s}"
    return None


RULES: tuple[Rule, ...] = (
    only_when_armed,
    other_relay_at_rest,
    wire_floats,
    contact_has_opened,
    contact_has_an_end,
)


def refusal(
    condition: Condition, path: TeachPath, command: Command, wire: WireState, now_s: float
) -> str | None:
    """Tell which rule the command would break now, in words; None if it may be carried out."""
    if path.relay(command.job).on == command.on:
        return None
    look = Look(condition, path, command, wire, now_s)
    return next((reason for rule in RULES if (reason := rule(look)) is not None), None)


def ready_s(path: TeachPath, job: Job) -> float:
    """The time from which relay `job` may be switched on, as far as times are concerned."""
    own = path.relay(job)
    return max(earliest_s(path, job), own.since_s + own.times.settle_s)


def earliest_s(path: TeachPath, job: Job) -> float:
    """The time from which relay `job` may be switched as far as the other relay's times are concerned."""
    other = path.other(job)
    return other.since_s + max(path.dead_time_s, other.times.settle_s)


# -- what follows from a command ------------------------------------------------------------------------------


def after_command(path: TeachPath, command: Command, now_s: float) -> TeachPath:
    """The path after a command that was not refused."""
    relay = path.relay(command.job)
    if relay.on == command.on:
        return path
    switched = replace(relay, on=command.on, since_s=now_s)
    path = replace(path, first=switched) if path.first is relay else replace(path, second=switched)
    if command.job is Job.RAIL_SELECTOR:
        return path
    times = relay.times
    open_by_s = inf if command.longest_s is None else now_s + command.longest_s - times.released_s
    follow_s = times.operate_s + times.bounce_s if command.on else times.released_s
    return replace(
        path,
        wire=path.wire.towards(wanted_wire(path), now_s + follow_s + READBACK_MARGIN_S),
        open_by_s=open_by_s if command.on else inf,
    )


def after_all_off(path: TeachPath, now_s: float) -> TeachPath:
    """The path after everything was switched off at once."""
    closed = path.closed_contact
    if closed is not None:
        path = after_command(path, Command(closed.job, on=False), now_s)
    for command in (Command(path.first.job, on=False), Command(path.second.job, on=False)):
        path = after_command(path, command, now_s)
    return path


def wanted_wire(path: TeachPath) -> WireState:
    """Where the commands put the teach wire."""
    closed = path.closed_contact
    if closed is None:
        return WireState.FLOATING
    if closed.job is Job.TEACH_CONTACT:
        return WireState.AT_PLUS if path.first.on else WireState.AT_MINUS
    return WireState.AT_PLUS if closed.job is Job.PLUS_CONTACT else WireState.AT_MINUS


def misreading(following: Following[WireState], seen: WireState, at_s: float) -> TripKind | None:
    """Tell what it means that the wire was read `seen` at `at_s`; None if that fits the commands."""
    if following.fits(seen, at_s):
        return None
    if seen is WireState.BOTH or WireState.FLOATING not in (seen, following.wanted):
        return TripKind.READBACK_WRONG_RAIL
    if following.arrived or seen is not following.was:
        return TripKind.READBACK_UNEXPECTED
    return TripKind.READBACK_DEAD if seen is WireState.FLOATING else TripKind.READBACK_WELDED
