"""The bench rules one by one, in the words they refuse with, and how soon a command may come."""

from dataclasses import replace
from math import inf

import pytest

from hal.errors import TripKind
from hal.interlock import rules
from hal.interlock.rules import Command, Condition, Following, Job, TeachPath, WireState
from tests.hal.rigs import SELECTOR, TWO_RELAY
from wiring.profile import RigProfile

FLOATING, AT_PLUS, AT_MINUS, BOTH = WireState
DEAD_TIME_S = SELECTOR.dead_time_s


def path(profile: RigProfile = SELECTOR) -> TeachPath:
    return rules.open_path(profile.nest[0], profile.dead_time_s)


def after(start: TeachPath, *commands: tuple[float, Job, bool]) -> TeachPath:
    for now_s, job, on in commands:
        start = rules.after_command(start, Command(job, on, longest_s=1.0 if on else None), now_s)
    return start


def refusal(
    at: TeachPath, job: Job, on: bool, now_s: float, wire: WireState = FLOATING, **more: object
) -> str | None:
    command = Command(job, on, **{"longest_s": 1.0 if on else None} | more)  # type: ignore[arg-type]
    return rules.refusal(Condition.ARMED, at, command, wire, now_s)


def test_selector_waits_for_the_dead_time_after_the_contact_opened() -> None:
    opened = after(path(), (1.0, Job.TEACH_CONTACT, True), (2.0, Job.TEACH_CONTACT, False))
    for on in (True, False):
        moved = opened if on else replace(opened, first=replace(opened.first, on=True))
        assert refusal(moved, Job.RAIL_SELECTOR, on, 2.0 + DEAD_TIME_S - 1e-4) is not None
        assert refusal(moved, Job.RAIL_SELECTOR, on, 2.0 + DEAD_TIME_S) is None


def test_contact_waits_for_the_selector_to_be_still() -> None:
    moved = after(path(), (1.0, Job.RAIL_SELECTOR, True))
    assert "rail_selector was switched" in str(refusal(moved, Job.TEACH_CONTACT, True, 1.04))
    assert refusal(moved, Job.TEACH_CONTACT, True, 1.0 + DEAD_TIME_S) is None


@pytest.mark.parametrize("wire", [AT_PLUS, AT_MINUS, BOTH])
def test_nothing_moves_while_the_wire_is_at_a_rail(wire: WireState) -> None:
    assert str(wire) in str(refusal(path(), Job.TEACH_CONTACT, True, 9.0, wire))
    assert str(wire) in str(refusal(path(), Job.RAIL_SELECTOR, True, 9.0, wire))
    closed = after(path(), (1.0, Job.TEACH_CONTACT, True))
    assert refusal(closed, Job.TEACH_CONTACT, False, 1.1, wire) is None


def test_contact_does_not_close_again_before_it_has_opened() -> None:
    opened = after(path(), (1.0, Job.TEACH_CONTACT, True), (2.0, Job.TEACH_CONTACT, False))
    assert "switched off only" in str(refusal(opened, Job.TEACH_CONTACT, True, 2.01))
    assert refusal(opened, Job.TEACH_CONTACT, True, rules.ready_s(opened, Job.TEACH_CONTACT)) is None


@pytest.mark.parametrize("longest_s", [None, 0.0, -1.0, 0.01, inf, float("nan")])
def test_contact_needs_an_end_that_lies_ahead(longest_s: float | None) -> None:
    assert "longest time" in str(refusal(path(), Job.TEACH_CONTACT, True, 9.0, longest_s=longest_s))


@pytest.mark.parametrize(
    ("first", "second"), [(Job.PLUS_CONTACT, Job.MINUS_CONTACT), (Job.MINUS_CONTACT, Job.PLUS_CONTACT)]
)
def test_with_two_relays_one_is_off_for_the_dead_time_before_the_other_closes(
    first: Job, second: Job
) -> None:
    closed = after(path(TWO_RELAY), (1.0, first, True))
    assert f"{first} is closed" in str(refusal(closed, second, True, 9.0))
    opened = after(closed, (2.0, first, False))
    assert refusal(opened, second, True, 2.0 + DEAD_TIME_S - 1e-4) is not None
    assert refusal(opened, second, True, 2.0 + DEAD_TIME_S) is None


def test_a_command_that_changes_nothing_changes_nothing() -> None:
    closed = after(path(), (1.0, Job.TEACH_CONTACT, True))
    again = Command(Job.TEACH_CONTACT, on=True, longest_s=100.0)
    assert rules.refusal(Condition.RESTING, closed, again, AT_MINUS, 1.5) is None
    assert rules.after_command(closed, again, 1.5) is closed


def test_contact_is_due_open_early_enough_for_the_relay_to_let_go() -> None:
    released_s = SELECTOR.nest[0].teach_relays[1].released_s
    assert after(path(), (1.0, Job.TEACH_CONTACT, True)).open_by_s == pytest.approx(2.0 - released_s)


OPENING = Following(AT_MINUS, FLOATING, by_s=2.0, arrived=False)
CLOSING = Following(FLOATING, AT_MINUS, by_s=2.0, arrived=False)
CLOSED = Following(FLOATING, AT_MINUS, by_s=2.0, arrived=True)
REST = Following(FLOATING, FLOATING)


@pytest.mark.parametrize(
    ("following", "seen", "at_s", "kind"),
    [
        (REST, FLOATING, 9.0, None),
        (REST, AT_PLUS, 9.0, TripKind.READBACK_UNEXPECTED),
        (REST, BOTH, 9.0, TripKind.READBACK_WRONG_RAIL),
        (CLOSING, FLOATING, 2.0, None),
        (CLOSING, AT_MINUS, 1.9, None),
        (CLOSING, FLOATING, 2.001, TripKind.READBACK_DEAD),
        (CLOSING, AT_PLUS, 1.9, TripKind.READBACK_WRONG_RAIL),
        (CLOSED, AT_MINUS, 9.0, None),
        (CLOSED, FLOATING, 9.0, TripKind.READBACK_UNEXPECTED),
        (CLOSED, FLOATING, 1.9, None),  # an edge told late, of the bounce at closing
        (OPENING, AT_MINUS, 2.0, None),
        (OPENING, FLOATING, 1.9, None),
        (OPENING, AT_MINUS, 2.001, TripKind.READBACK_WELDED),
        (OPENING, AT_PLUS, 1.9, TripKind.READBACK_UNEXPECTED),
    ],
)
def test_what_a_reading_means(
    following: Following[WireState], seen: WireState, at_s: float, kind: TripKind | None
) -> None:
    assert rules.misreading(following, seen, at_s) is kind
