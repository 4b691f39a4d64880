"""Every fault that bench, wiring or person can have is found and named, and no unit is blamed or praised for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest

from hal.errors import InstrumentError, TripKind
from hal.simulated.clock import NS
from hal.simulated.faults import BenchFault
from rig.events import BenchTripped, OrderEnded, UnitJudged, UnitStarted, Verdict
from rig.sequencer.findings import Reason
from tests.rig.sequencer.floor import SETTINGS, Shift, work_through

GOOD, BAD, UNDECIDED = Verdict.GOOD, Verdict.BAD, Verdict.UNDECIDED


def befall(
    setting: str, kind: str, *, units: int = 1, light: dict[str, Any] | None = None, **keys: Any
) -> Shift:
    """A sound unit on a bench that suffers this."""
    more = {} if light is None else {"light": light}
    return work_through(SETTINGS[setting], bench=(BenchFault(kind=kind, **keys),), units=units, **more)


# -- what trips the interlock ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Trip:
    """A fault that must switch everything off, and what the technician has to read."""

    setting: str
    kind: str
    keys: dict[str, Any]
    cause: TripKind
    words: str
    check: str

    def __str__(self) -> str:
        keys = ", ".join(f"{key}={value}" for key, value in self.keys.items())
        return f"{self.kind} {keys} on {self.setting}".replace("  ", " ")


def trip(setting: str, kind: str, cause: TripKind, words: str, check: str, **keys: Any) -> Trip:
    return Trip(setting, kind, keys, cause, words, check)


_WELDED = (
    TripKind.READBACK_WELDED,
    "was switched off but the teach wire is still at L",
    "welded teach contact",
)
_DEAD = (TripKind.READBACK_DEAD, "did not leave floating", "a relay that does not pull in")
_WRONG = (TripKind.READBACK_WRONG_RAIL, "where it should be at L", "rail selector that sticks")
_NO_SUPPLY = (TripKind.SUPPLY_DEAD, "the unit's L+ has no voltage", "supply relay that does not pull in")
_STOPPED = (TripKind.STOP_PRESSED, "the stop button is pressed", "pull the stop button out")
_NO_COILS = (TripKind.COIL_SUPPLY_LOST, "the relay coils have no supply", "heartbeat module")

TRIPS = [
    *[
        trip(setting, "teach-contact-welded", *_WELDED, after_contacts=count)
        for setting in ("18 point", "30 window", "12 point", "block window")
        for count in (1, 2)
    ],
    *[
        trip(setting, "teach-contact-dead", *_DEAD)
        for setting in ("18 point", "30 window", "12 point", "block window")
    ],
    trip("18 point", "teach-contact-dead", *_DEAD, after_contacts=1, after_s=5.0),
    *[trip(setting, "selector-stuck", *_WRONG) for setting in ("18 point", "30 window", "block window")],
    # Stuck after it had moved: the next contact would teach the other rail.
    trip("18 point", "selector-stuck", *_WRONG, after_contacts=1),
    *[trip("18 point", "relay-slow", *_DEAD, relay="teach_contact", factor=factor) for factor in (3, 30)],
    trip("18 point", "relay-slow", *_WRONG, relay="rail_selector", factor=10),
    trip("18 point", "relay-slow", *_NO_SUPPLY, relay="supply", factor=5),
    *[trip(setting, "supply-relay-dead", *_NO_SUPPLY) for setting in ("18 point", "12 point")],
    trip("30 window", "supply-relay-dead", TripKind.SUPPLY_DEAD, "has no voltage", "fuse", from_unit=1, after_s=20.0),
    trip("18 point", "supply-sag", *_NO_SUPPLY, voltage_v=8.0, from_unit=1),
    trip("18 point", "supply-sag", *_NO_COILS, voltage_v=0.0, from_unit=1, after_s=12.0),
    # At rest, with the target on its way, while a contact is closed, and while the output is read.
    trip("18 point", "stop-pressed", *_STOPPED),
    trip("18 point", "stop-pressed", *_STOPPED, from_unit=1, after_s=9.0),
    trip("18 point", "stop-pressed", *_STOPPED, after_contacts=1, after_s=0.4),
    trip("12 point", "stop-pressed", *_STOPPED, after_contacts=3, after_s=0.1),
    trip("18 point", "stop-pressed", *_STOPPED, after_contacts=2, after_s=6.0),
    # The button is pulled out again at once; without a reset nothing goes on.
    trip("30 window", "stop-pressed", *_STOPPED, after_contacts=2, after_s=1.0, for_s=0.3),
    trip("18 point", "program-killed", *_NO_COILS, after_contacts=1, after_s=0.2),
    trip("12 point", "program-killed", *_NO_COILS, from_unit=1, after_s=7.0),
]  # fmt: skip


BROKEN = {"teach-contact-welded": "A.teach_contact", "selector-stuck": "A.rail_selector"}


@pytest.mark.parametrize("case", TRIPS, ids=str)
def test_a_fault_of_the_bench_trips_and_is_named(case: Trip) -> None:
    shift = befall(case.setting, case.kind, units=2, **case.keys)
    cause = shift.order.trip
    assert cause is not None
    assert cause.kind is case.cause
    assert case.words in cause.words
    assert case.check in cause.check
    assert shift.order.ended_by == str(cause)
    (tripped,) = shift.noted(BenchTripped)
    assert (tripped.cause, tripped.words, tripped.check) == (cause.kind, str(cause), cause.check)
    shift.assert_safe(broken_relay=BROKEN.get(case.kind, ""))

    # The unit in the nest is neither blamed nor praised, and the next one is not begun.
    begun, judged = shift.noted(UnitStarted), shift.noted(UnitJudged)
    assert [(one.verdict, one.reason) for one in judged] == [(UNDECIDED, "bench-tripped")] * len(begun)
    assert all(one.words == f"interrupted: {cause}; set it again from the start" for one in judged)
    assert shift.order.left == 2 - len(begun)
    assert shift.noted(OrderEnded) == [OrderEnded("QOC-0900", 0, 0, len(begun), 2 - len(begun))]


def test_a_stop_while_the_hands_are_in_the_nest_says_nothing_about_a_unit_that_was_not_begun() -> None:
    shift = befall("18 point", "stop-pressed", from_unit=2, units=3)
    assert shift.order.verdicts == {"QOC-1": GOOD}
    assert shift.order.left == 2
    assert shift.order.trip is not None
    shift.assert_safe()


@pytest.mark.parametrize("setting", ["18 point", "30 window", "12 point"])
def test_relays_drop_when_the_program_is_killed_in_the_middle_of_a_contact(setting: str) -> None:
    shift = befall(setting, "program-killed", after_contacts=1)
    (tripped_ns,) = (one.at_ns for one in shift.events if isinstance(one.event, BenchTripped))
    moves_ns = [one.at_ns for one in shift.record.relays if one.relay == "A.teach_contact"]
    closed_ns, opened_ns = moves_ns[0], moves_ns[-1]
    # Two hundred milliseconds of the monostable after its last pulse, and the contact's own release.
    assert opened_ns - closed_ns < 0.22 * NS
    assert abs(tripped_ns - opened_ns) < 0.02 * NS
    shift.assert_safe()


# -- what the unit must not be blamed for ---------------------------------------------------------------------

FALLEN = {
    "dark": (Reason.LED_SILENT, "LED stayed dark instead of"),
    "mains-50": (Reason.LED_ROOM_LIGHT, "only the flicker of the room light: put it over the LED"),
    "mains-60": (Reason.LED_ROOM_LIGHT, "only the flicker of the room light: put it over the LED"),
    "daylight": (Reason.LED_ROOM_LIGHT, "light from a unit without supply: put it over the LED"),
}


@pytest.mark.parametrize("ambient", FALLEN)
@pytest.mark.parametrize("setting", ["18 point", "30 window", "12 point", "block window"])
def test_a_pick_up_that_has_fallen_off(setting: str, ambient: str) -> None:
    shift = befall(setting, "pickup-fallen-off", light={"ambient": ambient})
    reason, words = FALLEN[ambient]
    finding = shift.finding
    assert (finding.verdict, finding.reason) == (UNDECIDED, reason), finding.words
    assert words in finding.words
    assert "pick-up" in finding.words
    shift.assert_safe()


@pytest.mark.parametrize("ambient", FALLEN)
@pytest.mark.parametrize("setting", ["18 point", "30 window"])
def test_a_pick_up_that_falls_off_in_the_middle_of_teaching(setting: str, ambient: str) -> None:
    shift = befall(setting, "pickup-fallen-off", light={"ambient": ambient}, after_contacts=1, after_s=4.0)
    assert shift.finding.verdict is UNDECIDED
    assert shift.finding.reason in (Reason.LED_SILENT, Reason.LED_ROOM_LIGHT)
    assert "pick-up" in shift.finding.words
    shift.assert_safe()


@pytest.mark.parametrize(
    ("setting", "ambient"), [*((name, "mains-50") for name in SETTINGS), ("18 point", "mains-60")]
)
def test_flicker_that_leaks_into_a_pick_up_that_sits_right_does_no_harm(setting: str, ambient: str) -> None:
    shift = work_through(SETTINGS[setting], light={"ambient": ambient, "leaks": True})
    assert shift.finding.verdict is GOOD, shift.finding.words


STILL = [
    ("output-open", {}, Reason.OUTPUT_OPEN, "the LED switches but the output does not: output wire open"),
    ("output-shorted", {"rail": "L+"}, Reason.OUTPUT_STUCK, "output stays at L+ whatever the target does"),
    (
        "output-shorted",
        {"rail": "L-"},
        Reason.OUTPUT_STUCK,
        "output holds L- even without supply: shorted in",
    ),
    ("wrong-harness", {}, Reason.HARNESS_SWAPPED, "L+ and output exchanged in the harness"),
    ("relay-slow", {"relay": "load", "factor": 1000}, Reason.OUTPUT_STUCK, "or the load relay is stuck"),
    ("relay-slow", {"relay": "load", "factor": 10}, Reason.OUTPUT_UNCLEAR, "check load relay"),
]


@pytest.mark.parametrize("setting", SETTINGS)
@pytest.mark.parametrize(("kind", "keys", "reason", "words"), STILL)
def test_harness_and_load_are_not_taken_for_the_unit(
    setting: str, kind: str, keys: dict[str, Any], reason: Reason, words: str
) -> None:
    shift = befall(setting, kind, **keys)
    finding = shift.finding
    assert (finding.verdict, finding.reason) == (UNDECIDED, reason), finding.words
    assert words in finding.words
    shift.assert_safe()


@pytest.mark.parametrize(("kind", "keys"), [one[:2] for one in STILL[:3]])
@pytest.mark.parametrize("after_s", [0.5, 2.5, 3.6, 4.1, 4.8, 5.6])
def test_harness_that_fails_after_teaching(kind: str, keys: dict[str, Any], after_s: float) -> None:
    shift = befall("18 point", kind, after_contacts=2, after_s=after_s, **keys)
    finding = shift.finding
    assert finding.verdict is UNDECIDED, finding.words
    assert finding.reason in (Reason.OUTPUT_OPEN, Reason.OUTPUT_STUCK, Reason.OUTPUT_UNCLEAR), finding.words


@pytest.mark.parametrize("voltage_v", [15.0, 20.0])
@pytest.mark.parametrize("setting", ["18 point", "30 window", "12 point"])
def test_a_supply_that_sags_is_no_evidence_for_anything(setting: str, voltage_v: float) -> None:
    before = befall(setting, "supply-sag", voltage_v=voltage_v, from_unit=1)
    while_checked = befall(setting, "supply-sag", voltage_v=voltage_v, after_contacts=2, after_s=6.0)
    for shift in (before, while_checked):
        finding = shift.finding
        assert (finding.verdict, finding.reason) == (UNDECIDED, Reason.SUPPLY_LOW)
        assert finding.words == (
            f"supply stands at {voltage_v:.1f} V instead of 24.0 V: check the bench supply"
        )
        shift.assert_safe()


def test_a_bench_whose_supply_sags_from_the_start_is_not_opened() -> None:
    with pytest.raises(InstrumentError, match=r"gives 15\.00 V where 24\.00 V is set; look for a short"):
        befall("18 point", "supply-sag", voltage_v=15.0)


def test_a_target_that_slips_after_teaching_is_seen_at_the_set_point() -> None:
    shift = befall("18 point", "target-misplaced", offset_mm=20.0, after_contacts=2, after_s=2.0)
    finding = shift.finding
    assert (finding.verdict, finding.reason) == (BAD, Reason.SET_POINT_OFF)
    assert finding.words == "set point too near: output off at 390.7 mm, must be on"


# -- the person -----------------------------------------------------------------------------------------------


def test_a_person_who_never_comes_leaves_the_unit_not_begun() -> None:
    shift = befall("18 point", "person-silent", units=2)
    assert shift.order.verdicts == {}
    assert shift.order.left == 2
    assert shift.order.trip is None
    assert shift.order.ended_by == "no answer within 600 s to: Put unit QOC-1 into nest A."
    shift.assert_safe()


def test_a_person_who_goes_away_while_a_unit_is_in_work_leaves_its_verdict() -> None:
    shift = befall("18 point", "person-silent", from_unit=2, units=3)
    assert [finding.verdict for finding in shift.findings] == [GOOD, GOOD]
    assert shift.order.left == 1
    assert shift.order.ended_by == "no answer within 600 s to: Take unit QOC-2 out of nest A."
    shift.assert_safe()


@pytest.mark.parametrize("setting", ["18 point", "30 window"])
@pytest.mark.parametrize(
    ("kind", "keys"),
    [
        *[
            (kind, {"relay": relay})
            for kind in ("relay-dead", "relay-welded")
            for relay in ("supply", "rail_selector", "teach_contact", "load")
        ],
        ("heartbeat-bridged", {}),
        ("stop-bridged", {}),
        ("stop-input-deaf", {}),
        ("leakage", {"current_a": 0.01}),
    ],
)
def test_a_rig_that_was_not_checked_blames_no_unit(setting: str, kind: str, keys: dict[str, Any]) -> None:
    shift = befall(setting, kind, **keys)
    assert [finding.verdict for finding in shift.findings if finding.verdict is BAD] == []
