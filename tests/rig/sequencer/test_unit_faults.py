"""Every fault that a unit can have is found and named in words that a technician can act on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest

from hal.bench import Bench
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import Arrival, BenchFile, Changes, UnitRow
from hal.simulated.faults import UnitFault
from rig.events import CheckDone, ContactEnded, Stamped, SupplyMeasured, UnitStarted, Verdict
from rig.planning.plan import Requirement
from rig.sequencer.findings import Reason
from tests.rig.sequencer.floor import SETTINGS, work_through

BAD, UNDECIDED = Verdict.BAD, Verdict.UNDECIDED


@dataclass(frozen=True)
class Case:
    """A faulty unit of one setting, and what has to be said of it."""

    setting: str
    fault: dict[str, Any]
    verdict: Verdict
    reason: Reason
    words: str

    def __str__(self) -> str:
        keys = ", ".join(f"{key}={value}" for key, value in self.fault.items() if key != "kind")
        return f"{self.fault['kind']} {keys} on {self.setting}".replace("  ", " ")


def case(setting: str, verdict: Verdict, reason: Reason, words: str, kind: str, **keys: Any) -> Case:
    return Case(setting, {"kind": kind, **keys}, verdict, reason, words)


CASES = [
    # No current proves no dead unit: the plug may hang in the air, or the nest be empty.
    *[
        case(setting, UNDECIDED, Reason.NO_CURRENT, "draws 0 mA: unit dead, or not plugged in", "dead")
        for setting in ("18 point", "30 window", "12 point", "block window")
    ],
    case("18 point", BAD, Reason.OVER_CURRENT, "draws 200 mA, its type at most 50 mA", "over-current"),
    case("12 point", BAD, Reason.OVER_CURRENT, "draws 70 mA", "over-current", current_a=0.07),
    # Beyond the supply's limit the voltage gives way too; what counts is why.
    case("18 point", BAD, Reason.OVER_CURRENT, "draws 250 mA", "over-current", current_a=0.3),
    case("18 point", BAD, Reason.OUTPUT_TYPE, "is NPN, the order asks for PNP", "wrong-output-type"),
    case("12 point", BAD, Reason.OUTPUT_TYPE, "is PNP, the order asks for NPN", "wrong-output-type"),
    case("block window", BAD, Reason.OUTPUT_TYPE, "is PNP, the order asks for push-pull", "wrong-output-type"),
    *[
        case(setting, UNDECIDED, Reason.LED_SILENT, "LED stayed dark instead of", "led-dark")
        for setting in ("18 point", "30 window", "12 point")
    ],
    *[
        case(setting, BAD, Reason.TEACH_REFUSED, "refused the step: LED flashing 8 Hz", "refuses-teach")
        for setting in ("18 point", "18 full", "30 window", "12 window", "block window")
    ],
    case("18 point", BAD, Reason.SET_POINT_OFF, "set point too far out: output on at 409.3 mm, must be off",
         "stores-wrongly", offset_mm=12.0),
    case("18 point", BAD, Reason.SET_POINT_OFF, "set point too near: output off at 390.7 mm, must be on",
         "stores-wrongly", offset_mm=-12.0),
    case("18 window", BAD, Reason.SET_POINT_OFF, "far end too far out: output off at",
         "stores-wrongly", offset_mm=12.0),
    case("12 point", BAD, Reason.SET_POINT_OFF, "set point too far out: output off at 185.7 mm, must be on",
         "stores-wrongly", offset_mm=9.0),
    *[
        case(setting, BAD, Reason.OUTPUT_INVERSE, "on where it must be off", "stores-wrongly", inverse=True)
        for setting in ("18 point", "18 window", "12 point", "12 window", "30 full", "block window")
    ],
    case("18 point", BAD, Reason.SET_POINT_OFF, "set point too near", "drifted", offset_mm=15.0, after_s=0.0),
    case("18 point", BAD, Reason.SET_POINT_OFF, "too far out", "drifted", offset_mm=-15.0, after_s=0.0),
    case("12 point", BAD, Reason.SET_POINT_OFF, "set point too near", "drifted", offset_mm=9.0, after_s=0.0),
    *[
        case(setting, BAD, Reason.WIDE_DIFFERENTIAL, words, "wide-hysteresis", percent=10.0)
        for setting, words in {
            "18 point": "set point releases too late: output on at 421.5 mm, must be off",
            "12 point": "set point releases too late: output off at 191.2 mm, must be on",
            "30 window": "far end releases too late: output on at",
        }.items()
    ],
    case("12 window", BAD, Reason.WIDE_DIFFERENTIAL, "releases too late", "wide-hysteresis", percent=7.0),
    case("18 point", BAD, Reason.OUTPUT_UNSTEADY, "output not steady at", "noisy-echo", factor=30.0),
    case("18 point", BAD, Reason.OUTPUT_TYPE, "output holds L- at rest, which a PNP output cannot",
         "wrong-kind", actual="block-rail"),
    case("18 point", UNDECIDED, Reason.LED_SILENT, "another sensor type in the nest",
         "wrong-kind", actual="barrel-12-count"),
    case("18 point", BAD, Reason.NOT_DETECTED, "target not detected inside the zone",
         "wrong-kind", actual="barrel-30-length"),
    case("30 window", UNDECIDED, Reason.LED_SILENT, "instead of 2 blinks",
         "wrong-kind", actual="barrel-18-rail"),
    case("12 point", UNDECIDED, Reason.LED_SILENT, "another sensor type in the nest",
         "wrong-kind", actual="barrel-18-rail"),
    case("block window", BAD, Reason.TEACH_REFUSED, "refused the step", "wrong-kind", actual="barrel-18-rail"),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=str)
def test_a_faulty_unit_is_named(case: Case) -> None:
    shift = work_through(SETTINGS[case.setting], (UnitFault(**case.fault),))
    finding = shift.finding
    assert (finding.verdict, finding.reason) == (case.verdict, case.reason), finding.words
    assert case.words in finding.words
    shift.assert_safe()
    assert shift.order.trip is None
    assert shift.order.left == 0


@pytest.mark.parametrize("setting", SETTINGS)
def test_a_sound_unit_is_good(setting: str) -> None:
    shift = work_through(SETTINGS[setting])
    finding = shift.finding
    assert (finding.verdict, finding.reason) == (Verdict.GOOD, Reason.PROVEN), finding.words
    assert finding.words == f"{len(shift.plan.checks)} check positions read, all right"
    shift.assert_safe()


def test_a_set_point_that_moves_while_it_is_checked_is_not_taken_for_a_wide_differential() -> None:
    def slip(stamped: Stamped, simulated: SimulatedBench, _: Bench) -> None:
        if isinstance(stamped.event, CheckDone) and stamped.event.requirement == Requirement.OUTER_NOT_FAR:
            simulated.world.target.misplaced_mm = -25.0

    shift = work_through(SETTINGS["18 point"], look=slip)
    finding = shift.finding
    assert (finding.verdict, finding.reason) == (Verdict.UNDECIDED, Reason.SET_POINT_MOVED)
    assert "unit drifts, or the target has slipped" in finding.words
    where = [one.where for one in shift.noted(CheckDone) if one.requirement == Requirement.OUTER_RELEASE]
    assert where == ["from the last position", "from the last position", "from clear"]


@pytest.mark.parametrize(
    ("offset_mm", "words"),
    [
        (45.0, "near end too far out: output off at 426.3 mm, must be on"),
        (-45.0, "near end too near: output on at 373.7 mm, must be off"),
    ],
)
def test_a_window_of_which_only_the_near_end_is_wrong(offset_mm: float, words: str) -> None:
    def misplace(stamped: Stamped, simulated: SimulatedBench, _: Bench) -> None:
        if isinstance(stamped.event, UnitStarted | ContactEnded):
            near_end = isinstance(stamped.event, UnitStarted)
            simulated.world.target.misplaced_mm = offset_mm if near_end else 0.0

    finding = work_through(SETTINGS["block window"], look=misplace).finding
    assert (finding.verdict, finding.reason) == (Verdict.BAD, Reason.SET_POINT_OFF)
    assert finding.words == words


def test_the_load_is_not_taken_for_the_units_own_current() -> None:
    # It comes switching the other way round, so it is on, and feeds its load, when its current is measured.
    row = UnitRow(change=Changes(current_a=0.049), arrives=Arrival(mode="full-range", output_function="NC"))
    shift = work_through(SETTINGS["18 point"], furnished=BenchFile(title="test", unit=(row,)))
    measured = shift.noted(SupplyMeasured)[0].current_a
    assert measured is not None
    assert measured > shift.plan.inspection.current_max_a
    assert shift.finding.verdict is Verdict.GOOD, shift.finding.words


def test_the_next_unit_starts_afresh_after_a_faulty_one() -> None:
    shift = work_through(SETTINGS["18 point"], units=2)
    assert [finding.verdict for finding in shift.findings] == [Verdict.GOOD, Verdict.GOOD]
