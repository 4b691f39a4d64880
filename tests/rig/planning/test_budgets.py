"""Uncertainty budgets of positions: every source, what it comes to, and that the guard is what the rows say."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings

from rig.planning.grounds import BudgetRow, PositionBudget
from tests.looking import examples
from tests.rig.planning.cases import NeedCase, need_cases, needing, shipped

POINT = {"mode": "single-point", "output_function": "NO", "at_mm": 400.0, "tolerance_mm": 8.0}
SETTLED = settings(max_examples=examples(20))


def rows(budget: PositionBudget) -> dict[str, BudgetRow]:
    return {row.source: row for row in budget.rows}


def budget_at(case: NeedCase, position_mm: float) -> PositionBudget:
    return next(one for one in case.plan.grounds.budgets if one.position_mm == position_mm)


def test_a_budget_worked_out_by_hand() -> None:
    # 400 mm on the simulated bench, order without a need: half-widths over root three, in mm.
    budget = budget_at(needing(need=None, setting=POINT), 400.0)
    expected_mm = {
        "zero of the nest": 0.2 / math.sqrt(3),
        "step of the target": 0.05 / math.sqrt(3),
        "placement of the target": 0.2 / math.sqrt(3),
        "scale of the target": 400 * 0.0005 / math.sqrt(3),
        "tilt of the target's way (cosine error)": 400 * (1 - math.cos(math.radians(1))) / math.sqrt(3),
        "repeat accuracy of the unit": 400 * 0.0025 / math.sqrt(3),
    }
    assert {row.source: row.contribution_mm for row in budget.rows} == pytest.approx(expected_mm)
    combined_mm = math.sqrt(sum(mm**2 for mm in expected_mm.values()))
    assert budget.combined_mm == pytest.approx(combined_mm)
    assert (budget.coverage, budget.degrees_of_freedom) == (0.9545, None)
    assert budget.coverage_factor == pytest.approx(2.0, abs=1e-5)
    assert budget.expanded_mm == pytest.approx(2 * combined_mm, rel=1e-5)


def test_the_air_of_the_bench_counts_where_a_set_point_was_carried_over_from_the_machine() -> None:
    case = shipped("cold-store-need")
    budget = budget_at(case, case.plan.grounds.points[0].bench_mm)
    temperature = rows(budget)["temperature, bench"]
    # 1 K to either side, at the slope of the speed of sound: 0.171 % per kelvin about 23 °C.
    assert temperature.unit == "K"
    assert temperature.standard_uncertainty == pytest.approx(1 / math.sqrt(3))
    assert temperature.sensitivity == pytest.approx(budget.position_mm * 0.00171, rel=0.07)
    assert {
        "humidity, bench",
        "law of the speed of sound, machine",
        "law of the speed of sound, bench",
    } <= set(rows(budget))
    better = case.changed({"rig.air.temperature_error_k": 0.1})
    assert better.plan.guard_mm < case.plan.guard_mm


def test_a_compensated_type_owes_the_bench_its_residual_only() -> None:
    case = shipped("cold-store-need").changed({"type_name": "barrel-18-rail"})
    names = set(rows(case.plan.grounds.budgets[-1]))
    assert "rest of the unit's own air correction" in names
    assert not any(name.startswith(("temperature", "humidity", "pressure")) for name in names)


def test_the_step_of_the_unit_counts_where_the_data_sheet_states_it() -> None:
    row = rows(shipped("cold-store-need").plan.grounds.budgets[0])["step of the unit"]
    assert row.contribution_mm == pytest.approx(0.2 / math.sqrt(12))
    assert "step of the unit" not in rows(needing(need=None, setting=POINT).plan.grounds.budgets[0])


@SETTLED
@given(need_cases())
def test_shares_add_up_and_the_guard_is_the_expanded_uncertainty(case: NeedCase) -> None:
    assume(not case.refusals)
    for budget in case.plan.grounds.budgets:
        assert sum(row.share for row in budget.rows) == pytest.approx(1.0)
        assert budget.combined_mm == pytest.approx(math.hypot(*(row.contribution_mm for row in budget.rows)))
        for row in budget.rows:
            assert row.contribution_mm == pytest.approx(abs(row.sensitivity) * row.standard_uncertainty)


@SETTLED
@given(need_cases())
def test_every_position_that_the_target_takes_has_a_budget(case: NeedCase) -> None:
    assume(not case.refusals)
    plan = case.plan
    taken = {one.position_mm for one in plan.checks} | {one.proof_mm for one in plan.checks} - {None}
    assert taken - {None} <= {budget.position_mm for budget in plan.grounds.budgets}


@pytest.mark.parametrize(
    ("key", "worse"),
    [
        ("zero_error_mm", 1.0),
        ("resolution_mm", 1.0),
        ("placement_mm", 1.0),
        ("scale_error_percent", 0.5),
        ("tilt_deg", 5.0),
    ],
)
def test_everything_that_makes_the_scale_worse_widens_the_guard(key: str, worse: float) -> None:
    case = needing(need=None, setting=POINT)
    assert case.changed({f"rig.target.{key}": worse}).plan.guard_mm > case.plan.guard_mm


@pytest.mark.parametrize(
    ("resolution_mm", "grain_mm"), [(0.01, 0.1), (0.1, 0.1), (0.25, 0.3), (0.5, 0.5), (1.0, 1.0)]
)
def test_positions_are_whole_steps_that_can_be_set(resolution_mm: float, grain_mm: float) -> None:
    setting: dict[str, Any] = {**POINT, "tolerance_mm": 12.0}
    plan = needing(need=None, setting=setting, rig__target__resolution_mm=resolution_mm).plan
    for check in plan.checks:
        for at_mm in {check.position_mm, check.proof_mm} - {None}:
            assert at_mm is not None
            assert at_mm / grain_mm == pytest.approx(round(at_mm / grain_mm), abs=1e-6)
            assert at_mm == round(at_mm, 1)
