"""Other benches do the same job: targets moved by hand or into slots, one relay per rail, fewer eyes."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

from hal.simulated.faults import BenchFault, UnitFault
from hal.simulated.truths import PersonTruth
from rig.events import Asked, Verdict
from rig.sequencer.findings import Reason
from tests.rig.planned import BY_HAND, STAGE, job
from tests.rig.sequencer.floor import SETTINGS, on, rig_like, work_through
from wiring.profile import RigProfile

GOOD, BAD, UNDECIDED = Verdict.GOOD, Verdict.BAD, Verdict.UNDECIDED
POINT = SETTINGS["18 point"]

_TWO_RELAY = {
    "topology": "two-relay",
    "rail_selector": None,
    "teach_contact": None,
    "plus_contact": {"line": "GPIO6", "active": "low"},
    "minus_contact": {"line": "GPIO13", "active": "low"},
}


def _without_supply_measurement(rig: RigProfile) -> RigProfile:
    return rig.model_copy(update={"supply": rig.supply.model_copy(update={"kind": "fixed", "port": None})})


def _without_sense(rig: RigProfile) -> dict[str, Any]:
    return rig.coil_supply.model_dump(mode="json") | {"sense": None}


def _slots_for(rig: RigProfile) -> RigProfile:
    """A bench with a slot wherever an order for 400 mm needs one, and for no other order."""
    plan = on(POINT, BY_HAND).plan
    positions_mm = {400.0} | {
        at for one in plan.checks for at in (one.position_mm, one.proof_mm) if at is not None
    }
    free = ("GPIO2", "GPIO3", "GPIO6", "GPIO9", "GPIO10", "GPIO11", "GPIO12", "GPIO14", "GPIO15")
    slots = [
        {"number": number, "position_mm": at_mm, "line": line}
        for number, (at_mm, line) in enumerate(zip(sorted(positions_mm), free, strict=True), start=1)
    ]
    target = rig.target.model_dump(mode="json") | {"kind": "slots", "slots": slots}
    return rig_like(rig, target=target)


BENCHES: dict[str, RigProfile] = {
    "by hand": BY_HAND,
    "slots": _slots_for(BY_HAND),
    "one relay per rail": rig_like(STAGE, **_TWO_RELAY),
    "no LED pick-up": rig_like(STAGE, led=None),
    "no supply measurement": _without_supply_measurement(STAGE),
    "no sense inputs": rig_like(STAGE, supply_sense=None, coil_supply=_without_sense(STAGE)),
    "the barest": rig_like(
        _without_supply_measurement(BY_HAND),
        **_TWO_RELAY,
        led=None,
        supply_sense=None,
        foot_switch=None,
        coil_supply=_without_sense(BY_HAND),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BENCHES)
def test_a_sound_unit_is_good(name: str) -> None:
    shift = work_through(on(POINT, BENCHES[name]), units=2)
    assert [finding.verdict for finding in shift.findings] == [GOOD, GOOD], shift.findings
    shift.assert_safe()


@pytest.mark.parametrize("setting", ["18 window", "30 window", "12 window", "block window"])
@pytest.mark.parametrize("name", ["one relay per rail", "no LED pick-up"])
def test_every_way_of_teaching_works_there_too(name: str, setting: str) -> None:
    shift = work_through(on(SETTINGS[setting], BENCHES[name]))
    assert shift.finding.verdict is GOOD, shift.finding.words
    shift.assert_safe()


@pytest.mark.parametrize("mode", ["full-range", "window"])
def test_a_person_is_led_through_the_work_and_never_asked_twice_for_the_same(mode: str) -> None:
    distances_mm = {} if mode == "full-range" else {"near_mm": 200, "far_mm": 500, "tolerance_mm": 10}
    shift = work_through(job("barrel-18-rail", mode, rig=BY_HAND, **distances_mm))
    assert shift.finding.verdict is GOOD, shift.finding.words
    asked = [one.text for one in shift.noted(Asked)]
    assert asked[0] == "Put unit QOC-1 into nest A."
    assert asked[-1] == "Take unit QOC-1 out of nest A."
    assert [one for one, after in pairwise(asked) if one == after] == []


def test_a_unit_that_is_not_good_is_to_be_put_aside() -> None:
    shift = work_through(POINT, (UnitFault(kind="over-current"),))
    assert shift.noted(Asked)[-1].text == "Take unit QOC-1 out of nest A and put it aside: bad."


# Whatever the bench can tell of a fault, it never calls the unit good, and it blames nobody wrongly.
UNIT_FAULTS: dict[str, tuple[dict[str, Any], set[Verdict]]] = {
    "dead": ({"kind": "dead"}, {UNDECIDED}),
    "wrong output type": ({"kind": "wrong-output-type"}, {BAD}),
    "LED dark": ({"kind": "led-dark"}, {UNDECIDED}),
    "refuses": ({"kind": "refuses-teach"}, {BAD, UNDECIDED}),
    "stores too far": ({"kind": "stores-wrongly", "offset_mm": 20.0}, {BAD}),
    "stores the inverse": ({"kind": "stores-wrongly", "inverse": True}, {BAD}),
    "drifted": ({"kind": "drifted", "offset_mm": -20.0, "after_s": 0.0}, {BAD}),
    "wide": ({"kind": "wide-hysteresis", "percent": 12.0}, {BAD}),
    "noisy": ({"kind": "noisy-echo", "factor": 40.0}, {BAD, UNDECIDED}),
    "wrong kind": ({"kind": "wrong-kind", "actual": "barrel-12-count"}, {UNDECIDED}),
}


@pytest.mark.parametrize("fault", UNIT_FAULTS)
@pytest.mark.parametrize("name", BENCHES)
def test_no_faulty_unit_is_good_anywhere(name: str, fault: str) -> None:
    keys, verdicts = UNIT_FAULTS[fault]
    shift = work_through(on(POINT, BENCHES[name]), (UnitFault(**keys),))
    assert shift.finding.verdict in verdicts, shift.finding
    shift.assert_safe()


BENCH_FAULTS: dict[str, dict[str, Any]] = {
    "output open": {"kind": "output-open"},
    "output shorted to L+": {"kind": "output-shorted", "rail": "L+"},
    "output shorted to L-": {"kind": "output-shorted", "rail": "L-"},
    "harness": {"kind": "wrong-harness"},
    "supply relay dead": {"kind": "supply-relay-dead"},
    "stop": {"kind": "stop-pressed", "after_contacts": 1, "after_s": 0.3},
    "killed": {"kind": "program-killed", "after_contacts": 1, "after_s": 0.1},
    "contact dead": {"kind": "teach-contact-dead", "rail": "L+"},
    "load relay dead": {"kind": "relay-slow", "relay": "load", "factor": 1000},
    "person gone": {"kind": "person-silent", "after_contacts": 1},
}
# These say nothing against the unit or its bench as long as somebody comes in the end.
_MAY_BE_GOOD = {"person gone"}


@pytest.mark.parametrize("fault", BENCH_FAULTS)
@pytest.mark.parametrize("name", BENCHES)
def test_no_faulty_bench_blames_or_praises_a_sound_unit(name: str, fault: str) -> None:
    shift = work_through(on(POINT, BENCHES[name]), bench=(BenchFault(**BENCH_FAULTS[fault]),))
    found = shift.finding.verdict
    assert found is UNDECIDED or (fault in _MAY_BE_GOOD and found is GOOD), shift.finding
    shift.assert_safe()


@pytest.mark.parametrize("rail", ["L+", "L-"])
def test_one_relay_per_rail_a_welded_contact_never_meets_the_other(rail: str) -> None:
    fault = BenchFault(kind="teach-contact-welded", rail=rail, after_contacts=1)
    shift = work_through(on(SETTINGS["18 window"], BENCHES["one relay per rail"]), bench=(fault,), units=2)
    assert shift.finding.reason is Reason.BENCH_TRIPPED
    assert "still at" in shift.finding.words
    assert list(shift.record.incidents) == []
    assert shift.outputs_on == []


def test_what_was_not_measured_is_said() -> None:
    shift = work_through(on(POINT, BENCHES["no supply measurement"]))
    assert shift.finding.words == "6 check positions read, all right; supply current not measured"


def test_nobody_who_sees_the_led_says_done_for_a_unit_that_refuses() -> None:
    shift = work_through(on(POINT, BENCHES["no LED pick-up"]), (UnitFault(kind="refuses-teach"),))
    assert (shift.finding.verdict, shift.finding.reason) == (UNDECIDED, Reason.LED_SILENT)
    assert shift.finding.words.startswith("nobody saw the LED show flashing 2 Hz")


@pytest.mark.parametrize("name", ["by hand", "no LED pick-up"])
def test_a_person_who_goes_away_in_the_middle_leaves_the_unit_undecided(name: str) -> None:
    fault = BenchFault(kind="person-silent", after_contacts=1)
    shift = work_through(on(POINT, BENCHES[name]), bench=(fault,))
    assert shift.finding.verdict is UNDECIDED
    assert shift.finding.reason in (Reason.NO_ANSWER, Reason.LED_SILENT)
    shift.assert_safe()


@pytest.mark.parametrize(
    ("slow_s", "reason", "words"),
    [
        (20.0, Reason.PROVEN, "all right"),
        # The unit has forgotten the first step by now, and would take the second for a first.
        (120.0, Reason.TOO_SLOW, "from the contact before to the end of this contact, the type waits 90 s"),
        (320.0, Reason.TOO_SLOW, "from power-up to the end of this contact, the type waits 300 s"),
    ],
)
def test_a_slow_person_is_not_the_units_fault(slow_s: float, reason: Reason, words: str) -> None:
    person = PersonTruth(reaction_s=slow_s)
    window = job("barrel-18-rail", "window", rig=BY_HAND, near_mm=200, far_mm=500, tolerance_mm=10)
    shift = work_through(window, person=person)
    assert shift.finding.reason is reason, shift.finding.words
    assert words in shift.finding.words
    shift.assert_safe()


def test_slots_that_an_order_needs_are_all_there() -> None:
    slotted = on(POINT, BENCHES["slots"])
    assert slotted.plan.steps  # a missing slot would have been refused
    asked = [one for one in work_through(slotted).noted(Asked) if one.request == "place-target"]
    assert asked[0].text.startswith("Put the target into slot ")
