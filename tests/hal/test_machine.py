"""The bench in rough hands stays safe; with a rule taken away, the same hands find the danger."""

from collections.abc import Callable

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test

from hal.errors import TripKind
from hal.interlock import rules
from hal.interlock.outputs import OutputId, Outputs
from hal.interlock.rules import Following, WireState
from tests.hal.machine import RoughHands, RoughHandsOnTwoRelays

USUAL = settings(
    max_examples=60, stateful_step_count=40, deadline=None, suppress_health_check=list(HealthCheck)
)
HUNT = settings(
    USUAL, max_examples=600, stateful_step_count=30, database=None, phases=[Phase.generate], print_blob=False
)


@pytest.mark.parametrize("machine", [RoughHands, RoughHandsOnTwoRelays])
def test_bench_in_rough_hands_stays_safe(machine: type[RoughHands]) -> None:
    run_state_machine_as_test(machine, settings=USUAL)


def without(rule: rules.Rule) -> Callable[[pytest.MonkeyPatch], None]:
    def take_away(monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(rules, "RULES", tuple(one for one in rules.RULES if one is not rule))

    return take_away


def blind(monkeypatch: pytest.MonkeyPatch) -> None:
    def see_nothing(_following: Following[WireState], _seen: WireState, _at_s: float) -> TripKind | None:
        return None

    monkeypatch.setattr(rules, "misreading", see_nothing)


def sparing(monkeypatch: pytest.MonkeyPatch) -> None:
    def all_but_one(outputs: Outputs) -> tuple[OutputId, BaseException] | None:
        for device in list(outputs._devices.values())[1:]:
            device.off()
        return None

    monkeypatch.setattr(Outputs, "all_off", all_but_one)


@pytest.mark.parametrize(
    ("mutant", "machine"),
    [
        (without(rules.only_when_armed), RoughHands),
        (without(rules.other_relay_at_rest), RoughHands),
        (without(rules.other_relay_at_rest), RoughHandsOnTwoRelays),
        (without(rules.contact_has_an_end), RoughHands),
        (blind, RoughHands),
        (sparing, RoughHands),
    ],
    ids=["not-armed", "other-relay", "other-relay-of-two", "no-end", "blind", "sparing"],
)
def test_rough_hands_find_what_a_missing_rule_lets_through(
    monkeypatch: pytest.MonkeyPatch, mutant: Callable[[pytest.MonkeyPatch], None], machine: type[RoughHands]
) -> None:
    mutant(monkeypatch)
    with pytest.raises(AssertionError):
        run_state_machine_as_test(machine, settings=HUNT)
