"""Every fault of a bench that a self-check can see is found, in words that lead to the right terminal."""

from __future__ import annotations

from typing import Any

import pytest

from hal.interlock.rules import Condition
from hal.simulated.faults import BenchFault, BenchFaultKind
from hal.simulated.led import Ambient
from hal.simulated.truths import AirTruth, Light
from rig.selfcheck.checks import Outcome
from tests.rig.selfcheck.checked import RIGS, check_up

# Rig, fault, the one part that has to be blamed, and what its words have to name.
_HAND, _TWO = "selector, stage", "two relays, stage"
FAULTS: list[tuple[str, dict[str, Any], str, tuple[str, ...]]] = [
    (_HAND, {"kind": "teach-contact-welded"}, "teach contact of nest A", ("welded", "-K13:13", "-X11:2")),
    (_HAND, {"kind": "teach-contact-dead"}, "teach contact of nest A", ("pull in", "-K13:A1", "GPIO13")),
    (_TWO, {"kind": "teach-contact-welded", "rail": "L+"}, "contact to L+ of nest A", ("-K12:13", "GPIO6")),
    (_TWO, {"kind": "teach-contact-dead"}, "contact to L- of nest A", ("-K13:A1", "-R15", "-K15:Q2")),
    (_HAND, {"kind": "selector-stuck"}, "rail selector of nest A", ("-K12:11", "GPIO26", "-K15:Q1")),
    (_HAND, {"kind": "relay-slow", "relay": "supply"}, "supply relay of nest A", ("-K11:13", "GPIO16")),
    (
        _HAND,
        {"kind": "relay-slow", "relay": "teach_contact", "factor": 1.4},
        "teach contact of nest A",
        ("-K13", "12.0 ms", "Change"),
    ),
    (_HAND, {"kind": "relay-slow", "relay": "load"}, "load relay of nest A", ("Change -K14", "12.0 ms")),
    (_HAND, {"kind": "supply-relay-dead"}, "supply relay of nest A", ("-K11:A1", "-F1", "-X11:1")),
    (_HAND, {"kind": "relay-welded", "relay": "supply"}, "supply relay of nest A", ("welded", "-K11:14")),
    (_HAND, {"kind": "relay-dead", "relay": "load"}, "load relay of nest A", ("-K14:A1", "GPIO19")),
    (_HAND, {"kind": "output-shorted", "rail": "L-"}, "load relay of nest A", ("-X11:4", "shorted to L-")),
    (_HAND, {"kind": "output-shorted", "rail": "L+"}, "load relay of nest A", ("-X11:4", "shorted to L+")),
    (_HAND, {"kind": "leakage", "current_a": 0.01}, "wires of nest A", ("10.0 mA", "-X11:1")),
    (_HAND, {"kind": "supply-sag", "voltage_v": 21, "after_s": 1.5}, "supply", ("21.00 V", "-F1")),
    (_HAND, {"kind": "program-killed"}, "coil supply", ("-K1:Y1", "GPIO4", "-F2")),
    (_TWO, {"kind": "program-killed"}, "contact to L- of nest A", ("If no other relay moves", "-K1:Y1")),
    (_HAND, {"kind": "heartbeat-bridged"}, "coil supply", ("bridged", "-K1:13")),
    (_TWO, {"kind": "heartbeat-bridged"}, "heartbeat", ("Do not use", "-K1:13")),
    (_HAND, {"kind": "stop-bridged"}, "stop button", ("Do not use", "-S1:11", "-S1:12")),
    (_HAND, {"kind": "stop-input-deaf"}, "stop button", ("-S1:22", "GPIO17")),
    (_HAND, {"kind": "stop-pressed", "after_s": 2.0}, "supply relay of nest A", ("stop button", "-S1:21")),
    (_HAND, {"kind": "pickup-fallen-off"}, "LED pick-up of nest A", ("-B11", "-X11:8", "GPIO7")),
    (_HAND, {"kind": "stage-stalled"}, "target", ("halted", "-A2")),
    (_HAND, {"kind": "stage-loses-steps", "offset_mm": 3}, "target", ("lost steps", "-A2")),
    (_HAND, {"kind": "stage-late", "after_s": 2.0}, "target", ("late", "-A2")),
    ("gauge", {"kind": "gauge-stuck"}, "target", ("stuck", "coupling")),
    ("gauge", {"kind": "gauge-silent", "after_s": 1.0}, "target", ("gauge", "cable")),
    ("gauge", {"kind": "target-misplaced", "offset_mm": 8}, "target", ("Place the target again",)),
]


@pytest.mark.parametrize(
    ("rig", "fault", "part", "words"), FAULTS, ids=lambda one: one["kind"] if isinstance(one, dict) else ""
)
def test_a_fault_is_found_with_the_words_for_its_terminal(
    rig: str, fault: dict[str, Any], part: str, words: tuple[str, ...]
) -> None:
    checkup = check_up(RIGS[rig], BenchFault(**fault))
    assert part in checkup.failed
    assert checkup.result.outcome is Outcome.FAILED
    found = checkup.finding(part)
    told = f"{found.words} {found.advice}"
    assert [one for one in words if one not in told] == []
    assert checkup.condition is not Condition.ARMED


# Nothing but a unit in the nest, or a second look at the scale, shows these; a swing has no read-back.
UNSEEN = frozenset(
    {
        BenchFaultKind.WRONG_HARNESS,
        BenchFaultKind.OUTPUT_OPEN,
        BenchFaultKind.OUTPUT_CHATTERS,
        BenchFaultKind.SCALE_MISREAD,
        BenchFaultKind.TARGET_LEFT_IN,
    }
)


def test_every_fault_that_a_bench_can_have_is_tried_or_known_to_be_out_of_sight() -> None:
    tried = {BenchFaultKind(fault["kind"]) for _, fault, _, _ in FAULTS}
    assert tried | UNSEEN | {BenchFaultKind.PERSON_SILENT} == set(BenchFaultKind)


def test_light_on_a_pick_up_that_has_fallen_off_is_told_from_a_lamp_that_it_does_not_see() -> None:
    fallen = BenchFault(kind=BenchFaultKind.PICKUP_FALLEN_OFF)
    by_day = check_up(RIGS[_HAND], fallen, light=Light(ambient=Ambient.DAYLIGHT))
    assert "sees light with no unit" in by_day.finding("LED pick-up of nest A").words


def test_air_that_cannot_be_in_a_workshop_is_the_probes_fault() -> None:
    checkup = check_up(RIGS["probe"], air=AirTruth(temperature_c=-12.0))
    assert checkup.failed == ["air probe"]
    assert "-12.0 degrees C" in checkup.finding("air probe").words
    assert "[air.probe]" in checkup.finding("air probe").advice


def test_nothing_passes_while_nobody_is_there() -> None:
    checkup = check_up(RIGS[_HAND], BenchFault(kind=BenchFaultKind.PERSON_SILENT))
    assert checkup.result.outcome is Outcome.NOT_DONE
    assert {one.finding.outcome for one in checkup.result.checked} == {Outcome.NOT_DONE}
    assert checkup.record.relays == type(checkup.record.relays)()


def test_whoever_ends_a_self_check_says_nothing_against_the_part_in_hand() -> None:
    checkup = check_up(RIGS["selector, stage"], ended_after_s=8.0)
    assert checkup.failed == []
    assert checkup.result.outcome is Outcome.NOT_DONE
    words = [one.finding.words for one in checkup.result.checked]
    assert words.count("stopped by SIGINT") == 1
    assert Outcome.PASSED in {one.finding.outcome for one in checkup.result.checked}
