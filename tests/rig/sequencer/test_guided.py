"""Orders whose units are proved by a person who slides the target, from the hand to the verdict and once more."""

from __future__ import annotations

from typing import Any

import pytest

from hal.simulated.faults import BenchFault, UnitFault
from rig.events import EdgeMeasured, EdgeNotMeasured, EdgeSlid, RequirementJudged, Verdict
from rig.planning.refusal import PlanRefused
from rig.sequencer.findings import Reason
from sequences.checks import CheckPlan
from tests.rig.measuring.by_hand import GAUGE, SCALE, SLOTS
from tests.rig.planned import BY_HAND, STAGE, Job, job, rig_with
from tests.rig.recount.replays import assert_recount_agrees
from tests.rig.sequencer.floor import work_through
from wiring.profile import RigProfile
from wiring.terms import Verification

GUIDED = CheckPlan(method=Verification.GUIDED)


def point(rig: RigProfile = GAUGE, tolerance_mm: float = 8.0, checks: CheckPlan = GUIDED) -> Job:
    return job("barrel-18-rail", at_mm=400, tolerance_mm=tolerance_mm, checks=checks, rig=rig)


def window(rig: RigProfile = GAUGE) -> Job:
    return job(
        "barrel-18-rail", "window", "NC", near_mm=200, far_mm=500, tolerance_mm=9, checks=GUIDED, rig=rig
    )


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
@pytest.mark.parametrize("setting", [point, window])
def test_sound_units_are_good_and_the_record_alone_says_the_same(rig: RigProfile, setting: Any) -> None:
    shift = work_through(setting(rig), units=2)
    assert [finding.verdict for finding in shift.findings] == [Verdict.GOOD] * 2
    shift.assert_safe()
    assert {one.method for one in shift.noted(EdgeMeasured)} == {
        "slid by hand, gauge" if rig is GAUGE else "slid by hand, scale"
    }
    assert_recount_agrees(shift.events, shift.plan)


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_a_unit_that_is_set_too_far_out_is_bad_by_its_operate_point(rig: RigProfile) -> None:
    shift = work_through(point(rig), [UnitFault(kind="stores-wrongly", offset_mm=14.0)])
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.BAD, Reason.SET_POINT_OFF)
    (judged,) = [one for one in shift.noted(RequirementJudged) if one.requirement.startswith("operate")]
    assert judged.value == pytest.approx(414, abs=2)
    assert_recount_agrees(shift.events, shift.plan)


def test_a_rig_that_says_guided_proves_so_unless_the_order_says_otherwise() -> None:
    own = CheckPlan()
    assert point(rig_with(GAUGE, verify=Verification.GUIDED), checks=own).plan.method is Verification.GUIDED
    asked = CheckPlan(method=Verification.POSITIONS)
    assert (
        point(rig_with(GAUGE, verify=Verification.GUIDED), checks=asked).plan.method is Verification.POSITIONS
    )


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        (BenchFault(kind="gauge-stuck", after_s=45.0), Reason.GAUGE_FAILED),
        (BenchFault(kind="gauge-silent", after_s=45.0), Reason.GAUGE_FAILED),
        (BenchFault(kind="person-silent", after_s=60.0), Reason.NO_ANSWER),
    ],
)
def test_a_fault_of_the_bench_makes_nobody_bad(fault: BenchFault, reason: Reason) -> None:
    shift = work_through(point(), bench=[fault])
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, reason)
    shift.assert_safe()
    if reason is Reason.GAUGE_FAILED:
        assert shift.noted(EdgeNotMeasured)
        assert_recount_agrees(shift.events, shift.plan)


def test_a_hand_that_is_too_fast_leaves_a_unit_undecided() -> None:
    shift = work_through(point(), person={"slide_mm_s": 40.0})
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.SLIDES_FAILED)
    assert "too fast" in shift.finding.words
    assert len(shift.noted(EdgeSlid)) < 12


# -- what is refused before anything moves --------------------------------------------------------------------


def refusals(made: Job) -> dict[str, str]:
    with pytest.raises(PlanRefused) as refused:
        _ = made.plan
    return {one.key: f"{one.what}; possible: {one.nearest}" for one in refused.value.refusals}


def test_a_stage_is_not_slid_by_hand_and_a_hand_is_no_stage() -> None:
    told = refusals(point(STAGE))
    assert "a person slides the target" in told["checks.method"]
    assert "measured" in told["checks.method"]
    for rig in (BY_HAND, GAUGE):
        told = refusals(point(rig, checks=CheckPlan(method=Verification.MEASURED)))
        assert "guided" in told["checks.method"]
    told = refusals(point(rig_with(STAGE, verify=Verification.GUIDED), checks=CheckPlan()))
    assert "rig.target.verify" in told


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_a_tolerance_too_fine_for_the_hand_is_refused_with_the_finest_possible(rig: RigProfile) -> None:
    told = refusals(point(rig, tolerance_mm=0.5))
    assert "tolerance is finer than this rig can prove" in told["setting.tolerance_mm"]
    assert "an edge" in told["setting.tolerance_mm"]
    finest_mm = float(told["setting.tolerance_mm"].split("possible: ")[1].split()[0])
    assert (1.0 if rig is GAUGE else 2.5) < finest_mm < (2.5 if rig is GAUGE else 6.0)
    assert point(rig, tolerance_mm=finest_mm * 1.05).plan.method is Verification.GUIDED


def test_an_uncertainty_too_fine_for_the_hand_is_refused() -> None:
    told = refusals(point(checks=CheckPlan(method=Verification.GUIDED, uncertainty_mm=0.05)))
    assert "uncertainty is finer than this rig can measure" in told["checks.uncertainty_mm"]


def test_slots_that_do_not_enclose_an_edge_are_refused() -> None:
    far = job("barrel-18-rail", at_mm=600, tolerance_mm=30, checks=GUIDED, rig=SLOTS)
    told = refusals(far)
    assert "no two slots enclose an edge" in told["rig.target.slots"]
    assert "600 mm" in told["rig.target.slots"]


def test_what_a_hand_cannot_tell_is_said_and_not_judged() -> None:
    plan = point().plan
    assert any("response time on" in words and "by hand" in words for words in plan.warnings)
    assert any("repeat accuracy" in words and "hand" in words for words in plan.warnings)
    assert plan.measuring is not None
    assert not [one for one in plan.measuring.required if "response" in one.name or "repeat" in one.name]
