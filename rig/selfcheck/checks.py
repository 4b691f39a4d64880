"""What a self-check consists of, and how it comes out: pure, from the rig profile and what was measured."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from wiring.nest import NestProfile, Topology
from wiring.profile import RigProfile, TargetKind
from wiring.saying import say

STAMP_S = 0.002
"""By what a time may seem longer than it was: isolated input and time stamp (our choice)."""

LEAKAGE_A = 0.003
"""More than the monitors of a nest draw, and more than a supply's last digit (our choice)."""

INDOORS_C, INDOORS_PERCENT, RESTLESS_K = (5.0, 45.0), (5.0, 95.0), 1.0
"""What the air in a workshop is, and what its temperature does not change by within seconds (our choice)."""

_WORN_SHARE, _WORN_S = 0.3, 0.001
_FEWEST_RUNS = 3


class Outcome(StrEnum):
    """How a check, or all of them, came out; `not fitted`: the rig has nothing to do it with."""

    PASSED = "passed"
    WORN = "worn"
    FAILED = "failed"
    NOT_DONE = "not done"
    NOT_FITTED = "not fitted"


class Kind(StrEnum):
    """What a check is about."""

    SUPPLY = "supply"
    COILS = "coil supply"
    SUPPLY_RELAY = "supply relay"
    TEACH_MINUS = "teach wire to L-"
    TEACH_PLUS = "teach wire to L+"
    LOAD = "load relay"
    LEAKAGE = "leakage"
    HEARTBEAT = "heartbeat"
    PICKUP = "LED pick-up"
    TARGET = "target"
    AIR = "air probe"
    STOP = "stop button"


@dataclass(frozen=True, slots=True)
class Check:
    """One check; `nest` is the number of its nest from 1, None for what the rig has once."""

    kind: Kind
    part: str
    done: str
    nest: int | None = None


@dataclass(frozen=True, slots=True)
class Figure:
    """One measured figure with its limits, in `unit`; None: there is none."""

    name: str
    value: float
    low: float | None = None
    high: float | None = None
    unit: str = "s"

    @property
    def within(self) -> bool:
        """Whether it keeps its limits."""
        return (self.low is None or self.value >= self.low) and (self.high is None or self.value <= self.high)


@dataclass(frozen=True, slots=True)
class Finding:
    """How a check came out: in words, and what to look at, by the designations of the wiring papers."""

    outcome: Outcome
    words: str = ""
    advice: str = ""


def checks_of(profile: RigProfile) -> tuple[Check, ...]:
    """Every check of a rig, in the order in which they are done."""
    return tuple(_checks(profile))


def _checks(profile: RigProfile) -> Iterator[Check]:
    volts = f"{profile.supply.voltage_v:g} V"
    yield Check(Kind.SUPPLY, "supply", say("output on at {volts}; voltage and current measured", volts=volts))
    yield Check(Kind.COILS, "coil supply", "pulses begun; the coils have to get their supply, and not before")
    for index, nest in enumerate(profile.nest, start=1):
        yield from _nest_checks(nest, index)
    yield Check(
        Kind.HEARTBEAT, "heartbeat", "pulses ended under a relay that is on; it has to fall by itself"
    )
    for index, nest in enumerate(profile.nest, start=1):
        part = say("LED pick-up of nest {name}", name=nest.name)
        yield Check(Kind.PICKUP, part, "dark in the empty nest, lit by a lamp in a person's hand", index)
    yield Check(Kind.TARGET, "target", _TARGET_DONE[profile.target.kind])
    if profile.air.probe is not None:
        yield Check(Kind.AIR, "air probe", "temperature and humidity read three times, a second apart")
    yield Check(Kind.STOP, "stop button", "pressed by a person; the coils have to lose their supply at once")


_TARGET_DONE = {
    TargetKind.STAGE: "homed, moved out and back twice, position read back, speed measured",
    TargetKind.SLOTS: "put into each slot; its micro-switch has to close, alone",
    TargetKind.MANUAL: "put at two places of the scale; the gauge has to agree",
}


def _nest_checks(nest: NestProfile, index: int) -> Iterator[Check]:
    times = "five times on and off; times measured"
    of = say("of nest {name}", name=nest.name)
    minus, plus = ("teach contact", "rail selector")
    if nest.topology is Topology.TWO_RELAY:
        minus, plus = ("contact to L-", "contact to L+")
    yield Check(Kind.SUPPLY_RELAY, say("supply relay {of}", of=of), times, index)
    yield Check(
        Kind.TEACH_MINUS,
        say("{minus} {of}", minus=minus, of=of),
        say("L- on the teach wire, read back; {times}", times=times),
        index,
    )
    yield Check(
        Kind.TEACH_PLUS,
        say("{plus} {of}", plus=plus, of=of),
        say("L+ on the teach wire, read back; {times}", times=times),
        index,
    )
    yield Check(
        Kind.LOAD,
        say("load relay {of}", of=of),
        say("output pulled both ways, read back; {times}", times=times),
        index,
    )
    yield Check(
        Kind.LEAKAGE,
        say("wires {of}", of=of),
        "current with no unit, supply, teach wire and load in turn",
        index,
    )


def worn(value_s: float, earlier_s: Sequence[float]) -> bool:
    """Whether a relay takes clearly longer than it used to: 30 % and 1 ms more than the median of three runs or more.

    Our choice: relays of one make differ less, and one that has become so slow has done most of its work.
    """
    if len(earlier_s) < _FEWEST_RUNS:
        return False
    usual_s = median(earlier_s)
    return value_s > usual_s * (1 + _WORN_SHARE) + _WORN_S


def whole(outcomes: Iterable[Outcome]) -> Outcome:
    """How a self-check came out, from its checks: nothing passes on a check that was not done."""
    found = set(outcomes)
    for one in (Outcome.FAILED, Outcome.NOT_DONE, Outcome.WORN):
        if one in found:
            return one
    return Outcome.PASSED
