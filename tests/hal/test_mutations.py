"""Each bench rule is taken away in turn; the walk must then meet what may never happen."""

from collections.abc import Callable
from dataclasses import replace
from math import inf

import pytest

from hal.errors import TripKind
from hal.interlock import rules
from hal.interlock.rules import Command, Following, Job, TeachPath, WireState
from tests.hal.walk import Fault, walk
from wiring.nest import Topology

JOINED = "L+ joined to L-"
MOVED = "the selector moves under a closed contact"
TOO_LONG = "a contact is closed for too long"
DISAGREES = "the work goes on although the read-back disagrees"


def test_the_walk_is_clean_with_every_rule_in_place() -> None:
    assert walk(Topology.TWO_RELAY, Fault.NONE).violation == ""


@pytest.mark.parametrize(
    ("missing", "topology", "fault", "violation"),
    [
        (rules.only_when_armed, Topology.SELECTOR, Fault.NONE, "an output is on while"),
        (rules.other_relay_at_rest, Topology.SELECTOR, Fault.NONE, MOVED),
        (rules.other_relay_at_rest, Topology.TWO_RELAY, Fault.NONE, JOINED),
        (rules.wire_floats, Topology.SELECTOR, Fault.WELDED, MOVED),
        (rules.wire_floats, Topology.TWO_RELAY, Fault.WELDED, JOINED),
        (rules.contact_has_opened, Topology.SELECTOR, Fault.NONE, TOO_LONG),
        (rules.contact_has_an_end, Topology.TWO_RELAY, Fault.NONE, TOO_LONG),
    ],
)
def test_every_rule_is_needed(
    monkeypatch: pytest.MonkeyPatch, missing: rules.Rule, topology: Topology, fault: Fault, violation: str
) -> None:
    monkeypatch.setattr(rules, "RULES", tuple(rule for rule in rules.RULES if rule is not missing))
    assert walk(topology, fault).violation.startswith(violation)


def _no_dead_time(path: TeachPath, job: Job) -> float:
    return path.other(job).since_s


def _off_does_nothing(path: TeachPath, _now_s: float) -> TeachPath:
    return path


def _never_opened_by_timer(path: TeachPath, command: Command, now_s: float) -> TeachPath:
    return replace(_after_command(path, command, now_s), open_by_s=inf)


def _blind(_following: Following[WireState], _seen: WireState, _at_s: float) -> TripKind | None:
    return None


_after_command = rules.after_command


@pytest.mark.parametrize(
    ("name", "mutant", "fault", "violation"),
    [
        ("earliest_s", _no_dead_time, Fault.NONE, MOVED),
        ("after_all_off", _off_does_nothing, Fault.NONE, "an output is on while"),
        ("after_command", _never_opened_by_timer, Fault.NONE, TOO_LONG),
        ("misreading", _blind, Fault.WELDED, DISAGREES),
        ("misreading", _blind, Fault.DEAD, DISAGREES),
    ],
)
def test_every_part_of_the_rules_is_needed(
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    mutant: Callable[..., object],
    fault: Fault,
    violation: str,
) -> None:
    monkeypatch.setattr(rules, name, mutant)
    assert walk(Topology.SELECTOR, fault).violation.startswith(violation)
