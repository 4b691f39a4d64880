"""Out through the tolerance of each set point: a good unit changes its output once, a noisy one over and over."""

from __future__ import annotations

import pytest

from hal.simulated.faults import BenchFault, UnitFault
from rig.events import ContactEnded, OutputRead, ToleranceScanned, UnitJudged, Verdict
from rig.sequencer.findings import Reason
from sequences.checks import CheckPlan
from tests.rig.planned import BY_HAND, Job, job
from tests.rig.sequencer.floor import SETTINGS, Shift, work_through

WITH_POINTS = [name for name in SETTINGS if "full" not in name]
NOISY = UnitFault(kind="noisy-echo", factor=10.0)


def point(**checks: int) -> Job:
    return job("barrel-18-rail", checks=CheckPlan(**checks), at_mm=400, tolerance_mm=8)


def verdicts(made: Job, *faults: UnitFault, seeds: range) -> list[Verdict]:
    return [work_through(made, faults, seed=seed).finding.verdict for seed in seeds]


def scan_readings(shift: Shift) -> list[OutputRead]:
    return [one for one in shift.noted(OutputRead) if one.where == "out through the tolerance"]


@pytest.mark.parametrize("name", WITH_POINTS)
def test_sound_units_change_once_at_most_on_the_way_out(name: str) -> None:
    made = SETTINGS[name]
    for seed in range(8):
        shift = work_through(made, seed=seed)
        assert shift.finding.verdict is Verdict.GOOD
        planned = [at_mm for scan_mm in made.plan.scans_mm for at_mm in scan_mm]
        assert [one.position_mm for one in scan_readings(shift)] == planned
        assert len(planned) == 12 * len(made.plan.set_points)


def test_a_scan_goes_from_within_the_tolerance_out_to_where_a_usual_unit_lets_go() -> None:
    # Twelve positions 1.2 mm apart, shifted outwards by half the usual differential travel of 4 mm.
    (scan_mm,) = point().plan.scans_mm
    assert scan_mm[0] == pytest.approx(400 - 6.75 + 2, abs=0.1)
    assert scan_mm[-1] == pytest.approx(400 + 6.75 + 2, abs=0.1)
    near, far = job("barrel-18-rail", "window", near_mm=200, far_mm=500, tolerance_mm=8).plan.scans_mm
    assert near[0] > 200 > near[-1]
    assert far[0] < 500 < far[-1]


def test_a_noisy_unit_that_passes_single_positions_is_found_on_the_way_out() -> None:
    seeds = range(24)
    without = verdicts(point(scan_readings=0), NOISY, seeds=seeds)
    with_scan = verdicts(point(), NOISY, seeds=seeds)
    assert without.count(Verdict.GOOD) > 6
    assert with_scan.count(Verdict.GOOD) <= 2
    shifts = (work_through(point(), (NOISY,), seed=seed) for seed in seeds)
    words = {one.finding.words for one in shifts if one.finding.reason is Reason.OUTPUT_UNSTEADY}
    assert any("changes over and over between 395.2 and 408.8 mm" in one for one in words)


def test_nobody_is_asked_for_a_scan_by_hand_unless_the_order_wants_it() -> None:
    made = {"at_mm": 400.0, "tolerance_mm": 12.0}
    assert job("barrel-18-rail", rig=BY_HAND, **made).plan.scans_mm == ()
    wanted = CheckPlan(scan_readings=5)
    assert len(job("barrel-18-rail", rig=BY_HAND, checks=wanted, **made).plan.scans_mm[0]) == 5


def test_full_range_is_scanned_up_to_the_end_that_the_type_promises() -> None:
    (scan_mm,) = SETTINGS["18 full"].plan.scans_mm
    assert scan_mm[0] == 760.0
    assert 795.0 < scan_mm[-1] < 800.0
    made, noisy = SETTINGS["18 full"], UnitFault(kind="noisy-echo", factor=40.0)
    assert verdicts(made, noisy, seeds=range(12)).count(Verdict.GOOD) <= 1


@pytest.mark.parametrize("name", ["18 point", "18 window", "18 full"])
def test_a_unit_that_drifts_while_it_is_checked_is_found_by_reading_again_at_the_end(name: str) -> None:
    made = SETTINGS[name]
    sound = work_through(made)
    (started_s, taught_s), ends_s = (
        [one.at_s for one in sound.events if isinstance(one.event, kind)]
        for kind in (ContactEnded, UnitJudged)
    )
    # What changes between the last readings at both ends of the range goes unseen.
    moments = range(1, int(ends_s[0] - taught_s - 1.5))
    assert started_s < taught_s
    assert len(moments) > 5
    for moment in moments:
        drift = UnitFault(kind="drifted", offset_mm=-60.0, after_s=float(moment))
        found = work_through(made, (drift,)).finding
        assert found.verdict is not Verdict.GOOD, moment


def test_a_target_that_slips_while_it_is_used_is_not_held_against_the_unit() -> None:
    slipped = BenchFault(kind="target-misplaced", offset_mm=-15.0, after_contacts=2, after_s=6.0)
    found = work_through(SETTINGS["18 point"], bench=(slipped,)).finding
    assert found.verdict is Verdict.UNDECIDED
    assert found.reason is Reason.SET_POINT_MOVED


def test_one_odd_way_out_is_a_doubt_and_two_are_the_unit() -> None:
    made = SETTINGS["18 point"]
    # The unit jumps from one end of its tolerance to the other in the middle of the way out.
    begun = [one.at_s for one in work_through(made).events if isinstance(one.event, ToleranceScanned)]
    taught = [one.at_s for one in work_through(made).events if isinstance(one.event, ContactEnded)]
    moments = (begun[0] - taught[-1] - back_s for back_s in (1.0, 1.5, 2.0, 2.5, 3.0))
    jumps = [UnitFault(kind="drifted", offset_mm=-6.0, after_s=round(moment, 3)) for moment in moments]
    found = [work_through(made, (jump,)).finding for jump in jumps]
    assert {one.verdict for one in found} <= {Verdict.GOOD, Verdict.UNDECIDED}
    assert any("right only at the second time" in one.words for one in found)


def test_a_unit_is_not_blamed_for_what_it_does_on_too_little_supply() -> None:
    taught = [
        one.at_s for one in work_through(SETTINGS["18 point"]).events if isinstance(one.event, ContactEnded)
    ]
    for after_s in (4.0, 5.0, 6.0, 7.0):
        sag = BenchFault(kind="supply-sag", voltage_v=8.0, after_contacts=len(taught), after_s=after_s)
        found = work_through(SETTINGS["18 point"], bench=(sag,)).finding
        assert found.verdict is Verdict.UNDECIDED, found.words


def test_a_loose_output_wire_is_not_held_against_the_unit() -> None:
    sound = work_through(SETTINGS["18 point"])
    contacts = [one.at_s for one in sound.events if isinstance(one.event, ContactEnded)]
    (judged_s,) = (one.at_s for one in sound.events if isinstance(one.event, UnitJudged))
    for after_s in range(1, int(judged_s - contacts[-1])):
        loose = BenchFault(kind="output-chatters", after_contacts=len(contacts), after_s=float(after_s))
        found = work_through(SETTINGS["18 point"], bench=(loose,)).finding
        assert found.verdict is not Verdict.BAD, (after_s, found.words)
