"""Orders whose units are measured: through the whole bench, from the person's hand to the verdict."""

from __future__ import annotations

from itertools import groupby
from typing import Any

import pytest

from hal.simulated.faults import UnitFault
from rig.edges.task import finest_uncertainty_mm
from rig.events import (
    EdgeBegun,
    EdgeMeasured,
    EdgeNotMeasured,
    EdgePassed,
    EdgeRead,
    FigureMeasured,
    PoweredUp,
    RequirementJudged,
    UnitJudged,
    Verdict,
)
from rig.sequencer.findings import Reason
from sequences.checks import CheckPlan
from sequences.words import Rule
from tests.rig.planned import Job, job
from tests.rig.sequencer.floor import Shift, work_through
from wiring.terms import Verification

MEASURED = CheckPlan(method=Verification.MEASURED)
POINT = job("barrel-18-rail", at_mm=400, tolerance_mm=8, checks=MEASURED)
SETTINGS: dict[str, Job] = {
    "18 point": POINT,
    "18 window": job(
        "barrel-18-rail", "window", "NC", near_mm=200, far_mm=500, tolerance_mm=8, checks=MEASURED
    ),
    "18 full": job("barrel-18-rail", "full-range", checks=MEASURED.model_copy(update={"ends": True})),
    "12 point": job("barrel-12-count", "single-point", "NC", at_mm=180, tolerance_mm=5, checks=MEASURED),
    "30 window": job(
        "barrel-30-length", "window", near_mm=1200, far_mm=3500, tolerance_mm=50, checks=MEASURED
    ),
    "block window": job("block-rail", "window", near_mm=400, far_mm=1200, tolerance_mm=25, checks=MEASURED),
}


def judged(shift: Shift) -> dict[str, RequirementJudged]:
    return {one.requirement: one for one in shift.noted(RequirementJudged)}


def figure(shift: Shift, name: str) -> FigureMeasured:
    return next(one for one in shift.noted(FigureMeasured) if one.name == name)


@pytest.mark.parametrize("made", SETTINGS.values(), ids=SETTINGS.keys())
def test_sound_units_of_every_kind_are_measured_and_good(made: Job) -> None:
    shift = work_through(made, units=2)
    assert [finding.verdict for finding in shift.findings] == [Verdict.GOOD] * 2
    shift.assert_safe()
    wanted = [str(task.called) for task in made.plan.measuring.tasks]  # type: ignore[union-attr]
    # An edge that was measured on is told again.
    assert [edge for edge, _ in groupby(one.edge for one in shift.noted(EdgeMeasured))] == wanted * (
        2 if len(wanted) > 1 else 1
    )
    assert shift.noted(EdgeNotMeasured) == []
    assert {one.verdict for one in shift.noted(RequirementJudged)} == {Verdict.GOOD}
    required = [one.name for one in made.plan.measuring.required]  # type: ignore[union-attr]
    assert [one.requirement for one in shift.noted(RequirementJudged)] == required * 2


def test_what_was_read_comes_before_what_was_found_and_that_before_the_verdict() -> None:
    shift = work_through(POINT)
    kinds = [type(one.event) for one in shift.events]
    assert kinds.index(EdgeRead) < kinds.index(EdgePassed) < kinds.index(EdgeMeasured)
    assert kinds.index(EdgeMeasured) < kinds.index(PoweredUp) < kinds.index(RequirementJudged)
    assert kinds.index(RequirementJudged) < kinds.index(UnitJudged)


def test_figures_of_the_unit_are_told() -> None:
    shift = work_through(POINT)
    current, delay = figure(shift, "supply current"), figure(shift, "time delay before availability")
    assert current.value is not None
    assert 0.025 < current.value < 0.035
    # The simulated unit takes 70 to 100 % of its 0.3 s.
    assert delay.value is not None
    assert 0.2 < delay.value <= 0.3
    assert delay.expanded is not None
    assert delay.expanded < 0.001
    assert figure(shift, "voltage drop of the output").value is None
    off = figure(shift, "deviation on the bench, outer")
    edge = shift.noted(EdgeMeasured)[0]
    assert off.value == pytest.approx(edge.operate_mm - 400, abs=1e-5)
    assert off.expanded == pytest.approx(edge.operate_u_mm, abs=1e-5)


@pytest.mark.parametrize(
    ("fault", "reason", "requirement"),
    [
        ({"kind": "stores-wrongly", "offset_mm": 12}, Reason.SET_POINT_OFF, "operate point, outer"),
        ({"kind": "stores-wrongly", "offset_mm": -12}, Reason.SET_POINT_OFF, "operate point, outer"),
        ({"kind": "wide-hysteresis", "percent": 6}, Reason.WIDE_DIFFERENTIAL, "release point, outer"),
        ({"kind": "wide-hysteresis", "percent": 4}, Reason.WIDE_DIFFERENTIAL, "differential travel, outer"),
    ],
)
def test_what_is_wrong_with_an_edge_is_measured(
    fault: dict[str, Any], reason: Reason, requirement: str
) -> None:
    shift = work_through(POINT, [UnitFault(**fault)])
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.BAD, reason)
    one = judged(shift)[requirement]
    assert one.verdict is Verdict.BAD
    assert one.risk is not None
    assert one.risk < 0.03
    shift.assert_safe()


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        ({"kind": "over-current"}, Reason.OVER_CURRENT),
        ({"kind": "wrong-output-type"}, Reason.OUTPUT_TYPE),
        ({"kind": "stores-wrongly", "inverse": True}, Reason.OUTPUT_INVERSE),
    ],
)
def test_what_is_wrong_with_the_rest_of_a_unit_is_found_as_ever(
    fault: dict[str, Any], reason: Reason
) -> None:
    shift = work_through(POINT, [UnitFault(**fault)])
    assert (shift.finding.verdict, shift.finding.reason) == (Verdict.BAD, reason)


def test_a_simple_rule_decides_what_a_guarded_one_leaves_open() -> None:
    fault = UnitFault(kind="stores-wrongly", offset_mm=8.5)
    verdicts = {}
    for rule in (Rule.SIMPLE, Rule.GUARDED):
        checks = MEASURED.model_copy(update={"rule": rule})
        made = job("barrel-18-rail", at_mm=400, tolerance_mm=8, checks=checks)
        verdicts[rule] = [one.verdict for one in work_through(made, [fault], units=8).findings]
    assert Verdict.UNDECIDED not in verdicts[Rule.SIMPLE]
    assert Verdict.UNDECIDED in verdicts[Rule.GUARDED]


def test_an_edge_that_leaves_a_unit_open_is_measured_on_while_that_may_decide() -> None:
    coarse = MEASURED.model_copy(update={"uncertainty_mm": 4.0})
    made = job("barrel-18-rail", at_mm=400, tolerance_mm=8, checks=coarse)
    decided = measured_on = 0
    for percent in (2.1, 2.3, 2.6, 2.8, 3.2, 3.5):
        shift = work_through(made, [UnitFault(kind="wide-hysteresis", percent=percent)])
        wanted = [one.wanted_mm for one in shift.noted(EdgeBegun)]
        assert wanted == sorted(wanted, reverse=True)
        assert len(wanted) <= 3
        assert min(wanted) >= finest_uncertainty_mm(made.rig.target, 400)
        assert shift.noted(EdgeMeasured)[-1].readings < 300
        measured_on += wanted[-1] < wanted[0]
        decided += wanted[-1] < wanted[0] and shift.finding.verdict is not Verdict.UNDECIDED
    assert measured_on >= 3
    assert decided >= 3


def test_a_unit_at_its_very_limit_is_left_to_a_person_at_once() -> None:
    for seed in range(4):
        shift = work_through(POINT, [UnitFault(kind="stores-wrongly", offset_mm=8.3)], seed=seed)
        operate = judged(shift)["operate point, outer"]
        assert operate.value is not None
        if abs(operate.value - 408) < 0.5 * finest_uncertainty_mm(POINT.rig.target, 400):
            assert (shift.finding.verdict, shift.finding.reason) == (Verdict.UNDECIDED, Reason.NEAR_TOLERANCE)
            assert len(shift.noted(EdgeBegun)) <= 2


def test_what_is_bad_already_is_not_measured_on() -> None:
    coarse = MEASURED.model_copy(update={"uncertainty_mm": 3.0})
    made = job("barrel-18-rail", at_mm=400, tolerance_mm=8, checks=coarse)
    faults = [UnitFault(kind="stores-wrongly", offset_mm=-25), UnitFault(kind="wide-hysteresis", percent=2.8)]
    shift = work_through(made, faults)
    assert shift.finding.verdict is Verdict.BAD
    assert judged(shift)["differential travel, outer"].verdict is Verdict.UNDECIDED
    assert len({one.wanted_mm for one in shift.noted(EdgeBegun)}) == 1
