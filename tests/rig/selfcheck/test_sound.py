"""A sound bench passes, safely and within a minute; what it cannot check is said, not passed over."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hal.interlock.rules import Condition
from hal.simulated.led import Ambient
from hal.simulated.truths import Light
from rig.events import PartChecked, PartMeasured, SelfCheckEnded, SelfCheckStarted
from rig.selfcheck.checks import Outcome, checks_of, whole, worn
from rig.selfcheck.places import Places
from rig.selfcheck.times import CYCLES
from tests.hal.rigs import SELECTOR
from tests.rig.selfcheck.checked import RIGS, check_up
from wiring.circuit.build import circuit_of
from wiring.profile import RigProfile

# What each rig has nothing to check with.
NOT_FITTED = {
    "two relays, stage": {"coil supply", "supply relay of nest A", "stop button"},
    "by hand": {"target"},
}


@pytest.mark.parametrize("name", RIGS)
def test_a_sound_bench_passes(name: str) -> None:
    checkup = check_up(RIGS[name])
    wrong = [one for one in checkup.result.checked if one.finding.outcome is not Outcome.PASSED]
    assert {one.check.part for one in wrong} == NOT_FITTED.get(name, set()), wrong
    assert checkup.result.outcome is Outcome.PASSED
    assert list(checkup.record.incidents) == []
    assert checkup.condition is Condition.RESTING
    assert checkup.took_s < 60


def test_lamps_on_the_mains_do_not_disturb() -> None:
    light = Light(ambient=Ambient.MAINS_50, leaks=True)
    assert check_up(SELECTOR, light=light).result.outcome is Outcome.PASSED


def test_every_relay_is_really_switched_and_its_times_are_those_of_the_copper() -> None:
    checkup = check_up(SELECTOR)
    moved = [move.relay for move in checkup.record.relays if str(move.place) == "work"]
    for relay in ("supply", "rail_selector", "teach_contact", "load"):
        assert moved.count(f"A.{relay}") >= CYCLES
    measured = [one.event for one in checkup.events if isinstance(one.event, PartMeasured)]
    operate = {one.part: one.value for one in measured if one.figure == "operate"}
    # The simulated relays take 85 % to 100 % of their data sheet's 10 ms.
    assert set(operate) == {"supply relay of nest A", "teach contact of nest A", "load relay of nest A"}
    assert all(0.0085 <= value <= 0.01 for value in operate.values())
    (fell,) = (one.value for one in measured if one.figure == "drop-out")
    assert fell == pytest.approx(SELECTOR.coil_supply.dropout_s, abs=0.001)


def test_what_was_done_is_in_the_record() -> None:
    checkup = check_up(SELECTOR)
    events = [one.event for one in checkup.events]
    assert isinstance(events[0], SelfCheckStarted)
    assert events[-1] == SelfCheckEnded("simulated", "passed")
    noted = [one.part for one in events if isinstance(one, PartChecked)]
    assert noted == [check.part for check in checks_of(SELECTOR)]


def test_a_relay_that_has_become_slow_is_worn_before_it_is_out_of_its_profile() -> None:
    earlier = {("load relay of nest A", "operate"): [0.006, 0.0061, 0.0059]}
    checkup = check_up(SELECTOR, earlier=earlier)
    assert checkup.result.outcome is Outcome.WORN
    found = checkup.finding("load relay of nest A")
    assert "worn" in found.words
    assert "-K14" in found.advice


@given(st.floats(0.001, 0.05), st.lists(st.floats(0.001, 0.05), max_size=2))
def test_two_earlier_runs_are_too_few_to_call_a_relay_worn(value_s: float, earlier_s: list[float]) -> None:
    assert not worn(value_s, earlier_s)


@given(st.lists(st.sampled_from(Outcome)))
def test_a_self_check_passes_only_on_checks_that_were_done(outcomes: list[Outcome]) -> None:
    doubtful = {Outcome.FAILED, Outcome.NOT_DONE}.intersection(outcomes)
    assert (whole(outcomes) in (Outcome.PASSED, Outcome.WORN)) is not bool(doubtful)


@pytest.mark.parametrize("name", RIGS)
def test_the_places_it_names_are_in_the_wiring_papers(name: str) -> None:
    rig = RIGS[name]
    places, wired = Places(rig), _terminals(rig)
    nest = rig.nest[0]
    lines = [nest.supply, nest.load, *nest.teach_relays]
    named = [terminal for line in lines for terminal in places.contact(line).split(", ")]
    named += [f"{places.relay(line)}:{coil}" for line in lines for coil in ("A1", "A2")]
    sources = [nest.teach_at_plus, nest.output_at_minus, rig.coil_supply.stop_button, nest.led]
    named += [places.source(line) for line in sources if line is not None]
    named += [places.unit_terminal(1, what) for what in ("L+", "teach", "L-", "output", "LED")]
    named += ["-S1:11", "-S1:12", "-S1:21", "-S1:22", "-K1:13", "-K1:14", "-K1:Y1", "-K1:A2"]
    named += ["-F1:2", "-T1:+", "-T1:-", "-X11:6", "-X11:7"]
    assert [one for one in named if one not in wired] == []


def _terminals(rig: RigProfile) -> set[str]:
    return {str(end) for wire in circuit_of(rig).wires() for end in (wire.start, wire.end)}
