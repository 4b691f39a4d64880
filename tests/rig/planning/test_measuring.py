"""Plans for units that are measured: what is refused, how finely, what is judged, and what the rule moves."""

from __future__ import annotations

from typing import Any

import pytest

from rig.edges.edge import Edge
from rig.edges.task import finest_uncertainty_mm
from rig.planning.compile import make_plan
from rig.planning.plan import Measuring, Plan, Requirement
from rig.planning.refusal import PlanRefused, Refusal
from sequences.checks import CheckPlan
from sequences.words import Rule
from tests.rig.planned import BY_HAND, STAGE, Job, check_of, job, rig_with
from tests.rig.sequencer.floor import on, rig_like
from wiring.terms import Verification


def measured(**checks: Any) -> CheckPlan:
    return CheckPlan(method=Verification.MEASURED, **checks)


def point(tolerance_mm: float = 8.0, **checks: Any) -> Job:
    return job("barrel-18-rail", at_mm=400, tolerance_mm=tolerance_mm, checks=measured(**checks))


def measuring(plan: Plan) -> Measuring:
    assert plan.measuring is not None
    return plan.measuring


def refused(made: Job) -> Refusal:
    with pytest.raises(PlanRefused) as refusals:
        make_plan(made.order, made.sensor_type, made.rig)
    (refusal,) = refusals.value.refusals
    return refusal


class TestRefused:
    def test_a_rig_without_a_drive(self) -> None:
        refusal = refused(on(point(20.0), BY_HAND))
        assert (refusal.key, refusal.given, refusal.passes) == ("checks.method", "measured", "guided")
        assert "target drive" in refusal.what

    def test_a_rig_without_a_drive_that_would_measure_on_its_own(self) -> None:
        by_hand = BY_HAND.target.model_copy(update={"verify": Verification.MEASURED})
        made = job("barrel-18-rail", at_mm=400, tolerance_mm=20)
        refusal = refused(on(made, BY_HAND.model_copy(update={"target": by_hand})))
        assert refusal.key == "rig.target.verify"

    def test_an_uncertainty_finer_than_the_bench(self) -> None:
        refusal = refused(point(uncertainty_mm=0.1))
        assert (refusal.key, refusal.given) == ("checks.uncertainty_mm", "0.1 mm")
        assert isinstance(refusal.passes, float)
        assert refusal.passes == pytest.approx(finest_uncertainty_mm(STAGE.target, 400), abs=0.01)
        plan = point(uncertainty_mm=refusal.passes).plan
        assert measuring(plan).tasks[0].wanted_mm == refusal.passes

    def test_a_tolerance_finer_than_can_be_measured(self) -> None:
        refusal = refused(point(0.5))
        assert refusal.key == "setting.tolerance_mm"
        assert isinstance(refusal.passes, float)
        assert "an edge" in refusal.nearest
        assert point(refusal.passes).plan.tolerance_mm == refusal.passes
        # Reading positions cannot prove as much: placing again and the unit's own scatter count there.
        assert (
            refused(job("barrel-18-rail", at_mm=400, tolerance_mm=refusal.passes)).key
            == "setting.tolerance_mm"
        )

    def test_a_target_that_cannot_follow_until_the_unit_lets_go(self) -> None:
        refusal = refused(on(point(), rig_with(farthest_mm=412.0)))
        assert refusal.key == "rig.target.farthest_mm"
        assert isinstance(refusal.passes, float)
        assert on(point(), rig_with(farthest_mm=refusal.passes)).plan.method is Verification.MEASURED


class TestPlanned:
    def test_no_position_has_to_prove_a_set_point(self) -> None:
        plan = point().plan
        assert [one.requirement for one in plan.checks] == [
            Requirement.DETECTS_INSIDE,
            Requirement.CLEAR_BEAM,
            Requirement.BLIND_END,
        ]
        assert plan.scans_mm == ()
        assert plan.expected_s > job("barrel-18-rail", at_mm=400, tolerance_mm=8).plan.expected_s

    @pytest.mark.parametrize("tolerance_mm", [1.0, 2.0, 8.0, 40.0])
    def test_the_uncertainty_follows_the_tolerance_as_far_as_the_bench_can(self, tolerance_mm: float) -> None:
        (task,) = measuring(point(tolerance_mm).plan).tasks
        finest_mm = finest_uncertainty_mm(STAGE.target, 400)
        assert finest_mm <= task.wanted_mm <= max(1.1 * finest_mm, tolerance_mm / 8)

    def test_ends_are_measured_where_asked(self) -> None:
        full = job("barrel-18-rail", "full-range", checks=measured(ends=True))
        assert [task.called for task in measuring(full.plan).tasks] == [Edge.OUTER, Edge.BLIND]
        assert "operate point, blind" in {one.name for one in measuring(full.plan).required}
        short = on(full, rig_with(farthest_mm=780.0, nearest_mm=50.0))
        assert measuring(short.plan).tasks == ()
        assert any("the end of the range is not measured" in one for one in short.plan.warnings)
        assert any("the end of the blind zone is not measured" in one for one in short.plan.warnings)

    def test_what_the_bench_cannot_tell_is_told_but_not_judged(self) -> None:
        made = job("barrel-12-count", "window", near_mm=100, far_mm=200, tolerance_mm=5, checks=measured())
        required = {one.name for one in measuring(made.plan).required}
        assert "response time on, outer" not in required
        assert any(
            one.startswith("response time on, outer is told, not judged") for one in made.plan.warnings
        )
        no_sense = rig_like(supply_sense=None)
        assert "time delay before availability" in required
        assert "time delay before availability" in {
            one.name for one in measuring(on(made, no_sense).plan).required
        }
        fixed = rig_like(supply={"kind": "fixed"})
        assert "supply current" not in {one.name for one in measuring(on(made, fixed).plan).required}


class TestRule:
    @pytest.mark.parametrize(
        ("rule", "risk", "guards"),
        [
            (Rule.SIMPLE, None, 0.0),
            (Rule.GUARDED, None, 2.0),
            (Rule.RISK, 0.05, 1.645),
            (Rule.RISK, 1e-4, 3.719),
        ],
    )
    def test_check_positions_keep_clear_of_the_tolerance_as_the_rule_says(
        self, rule: Rule, risk: float | None, guards: float
    ) -> None:
        checks = CheckPlan(rule=rule, largest_risk=risk)
        made = job("barrel-18-rail", at_mm=400, tolerance_mm=8, checks=checks)
        guard_mm = guards * made.guard_mm(400) / 2
        far = check_of(made.plan, Requirement.OUTER_NOT_FAR)
        assert far.position_mm == pytest.approx(408 - guard_mm, abs=0.1)
        assert far.proof_mm == pytest.approx(408 + guard_mm, abs=0.1)
        (told,) = made.plan.grounds.risks
        assert told.guard_mm == pytest.approx(guard_mm, rel=1e-3)
        wanted = {0.0: 0.5, 2.0: 0.02275, 1.645: 0.05, 3.719: 1e-4}[guards]
        assert told.passes_at_limit == pytest.approx(wanted, rel=0.05)

    def test_a_smaller_risk_needs_a_larger_tolerance(self) -> None:
        checks = CheckPlan(rule=Rule.RISK, largest_risk=1e-6)
        refusal = refused(job("barrel-18-rail", at_mm=400, tolerance_mm=3, checks=checks))
        assert refusal.key == "setting.tolerance_mm"
        assert job("barrel-18-rail", at_mm=400, tolerance_mm=3).plan.tolerance_mm == 3
