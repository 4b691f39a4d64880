"""What holds for every plan from a need, whatever the need."""

from __future__ import annotations

import json
from dataclasses import asdict

import pytest
from hypothesis import HealthCheck, assume, event, given, settings
from hypothesis import strategies as st

from rig.planning.plan import MakeContact, PlaceTarget
from tests.looking import examples
from tests.rig.planning.cases import TYPES, NeedCase, need_cases

MANY = settings(max_examples=examples(30))
FEW = settings(max_examples=examples(15))


def planned(case: NeedCase) -> NeedCase:
    """The case, if it can be done."""
    refusals = case.refusals
    event("refused: " + refusals[0].what.split(" at ")[0][:40] if refusals else "planned")
    assume(not refusals)
    return case


@MANY
@given(need_cases())
def test_a_proposal_keeps_clear_of_everything_over_all_of_the_air(case: NeedCase) -> None:
    plan, need = planned(case).plan, case.order.need
    assert need is not None
    sensing, tolerance_mm = case.sensor_type.sensing, plan.tolerance_mm
    points = {point.point: point for point in plan.grounds.points}
    outer = points.get("only") or points.get("far")  # type: ignore[call-overload]
    inner = points.get("near")  # type: ignore[call-overload]
    if outer is not None:
        # By its own words: nearest and farthest place of the set point, tolerance, guard, differential travel.
        reach_mm = tolerance_mm + outer.guard_mm
        assert outer.drift_nearest_mm - reach_mm >= need.farthest_mm - 1e-6
        travel_mm = sensing.hysteresis_largest_mm(outer.machine_mm + tolerance_mm)
        if need.background_mm is not None:
            assert outer.drift_farthest_mm + reach_mm + travel_mm <= need.background_mm + 1e-6
    if inner is not None:
        reach_mm = tolerance_mm + inner.guard_mm
        assert inner.drift_farthest_mm + reach_mm <= need.nearest_mm + 1e-6
        travel_mm = sensing.hysteresis_largest_mm(inner.machine_mm - tolerance_mm)
        if need.foreground_mm is not None:
            assert inner.drift_nearest_mm - reach_mm - travel_mm >= need.foreground_mm - 1e-6
    assert (inner is None) <= (need.foreground_mm is None)
    if outer is None:
        assert need.background_mm is None or plan.mode == "full-range"


@MANY
@given(need_cases())
def test_tolerance_can_be_proven_and_holds_over_all_of_the_air(case: NeedCase) -> None:
    plan = planned(case).plan
    for point in plan.grounds.points:
        assert plan.tolerance_mm >= 2 * point.guard_mm
        assert point.machine_mm - point.drift_nearest_mm <= plan.tolerance_mm + 1e-6
        assert point.drift_farthest_mm - point.machine_mm <= plan.tolerance_mm + 1e-6


@MANY
@given(need_cases())
def test_no_position_beyond_the_reach_and_no_contact_beyond_the_type(case: NeedCase) -> None:
    plan, target, limits = planned(case).plan, case.profile.target, case.sensor_type.contact
    positions = [one.position_mm for one in plan.checks] + [one.proof_mm for one in plan.checks]
    positions += [one.position_mm for one in plan.steps if isinstance(one, PlaceTarget)]
    for at_mm in positions:
        assert at_mm is None or target.nearest_mm <= at_mm <= target.farthest_mm
    for step in plan.steps:
        if isinstance(step, MakeContact):
            assert limits.shortest_s <= step.shortest_s < step.longest_s <= limits.longest_s


@MANY
@given(need_cases())
def test_every_position_stands_for_a_distance_at_the_machine_and_back_to_a_micrometre(case: NeedCase) -> None:
    plan = planned(case).plan
    scale = plan.grounds.air.scale if plan.grounds.air else 1.0
    taught = [one for one in plan.steps if isinstance(one, PlaceTarget) and one.machine_mm is not None]
    for place in (*taught, *plan.checks):
        if place.position_mm is not None:
            assert place.machine_mm is not None
            assert place.machine_mm * scale == pytest.approx(place.position_mm, abs=1e-3)
    # A set point itself may be off by half a step of the scale, no more.
    for step, (_, at_mm) in zip(taught, plan.set_points, strict=True):
        assert step.machine_mm == pytest.approx(at_mm, abs=0.05 / scale + 1e-9)


@MANY
@given(need_cases(), st.floats(0.02, 1.0), st.floats(0.02, 1.0))
def test_a_tolerance_too_strict_does_not_pass_when_made_stricter_still(
    case: NeedCase, first: float, second: float
) -> None:
    plan = planned(case).plan
    assume(plan.set_points)
    keys = {"only": "at_mm", "near": "near_mm", "far": "far_mm"}
    whole = case.changed(
        {
            "setting.mode": str(plan.mode),
            "setting.output_function": str(plan.output_function),
            **{f"setting.{keys[point]}": at_mm for point, at_mm in plan.set_points},
        }
    )
    fine_mm, finer_mm = (plan.tolerance_mm * share for share in sorted((first, second), reverse=True))
    if whole.changed({"setting.tolerance_mm": fine_mm}).refusals:
        assert whole.changed({"setting.tolerance_mm": finer_mm}).refusals


# Hardly half of the made-up needs are refused, and those for a coarse tolerance are left out too.
@settings(MANY, suppress_health_check=[HealthCheck.filter_too_much])
@given(need_cases(), st.floats(0.02, 1.0))
def test_an_order_refused_for_anything_but_a_coarse_tolerance_does_not_pass_with_a_stricter_one(
    case: NeedCase, share: float
) -> None:
    ordered_mm, refusals = case.setting.get("tolerance_mm"), case.refusals
    assume(ordered_mm is not None and refusals)
    assume(not any("tolerance leaves no room" in one.what for one in refusals))
    assert case.changed({"setting.tolerance_mm": (ordered_mm or 1.0) * share}).refusals


@FEW
@given(need_cases())
def test_the_same_need_gives_the_same_plan(case: NeedCase) -> None:
    assert planned(case).plan == case.plan
    assert hash(case.plan) == hash(case.plan)


@FEW
@given(need_cases())
def test_a_plan_can_be_written_as_json_without_anything_json_does_not_know(case: NeedCase) -> None:
    text = json.dumps(asdict(planned(case).plan), allow_nan=False)
    assert json.loads(text)["grounds"]["budgets"]


@FEW
@given(need_cases())
def test_every_choice_has_its_reason(case: NeedCase) -> None:
    plan = planned(case).plan
    reasons = {one.choice: one for one in plan.grounds.reasons}
    chosen = {"mode": str(plan.mode), "output function": str(plan.output_function)}
    chosen |= {f"set point {point}": f"{at_mm:g} mm" for point, at_mm in plan.set_points}
    chosen |= {"tolerance": f"{plan.tolerance_mm:g} mm"} if plan.set_points else {}
    assert {choice: one.value for choice, one in reasons.items()} == chosen
    assert all(one.why for one in reasons.values())
    assert reasons["mode"].proposed


@FEW
@given(need_cases(("barrel-18-plain", "barrel-18-rail")), st.floats(1.0, 15.0))
def test_warmer_air_at_the_machine_moves_the_bench_position_of_an_uncompensated_type_only(
    case: NeedCase, warmer_k: float
) -> None:
    assume(case.need is not None and "air" in case.need and "foreground_mm" not in case.need)
    point = {"setting.mode": "single-point", "setting.output_function": "NO", "setting.at_mm": 400.0}
    air = (case.need or {})["air"]
    bare = {"need": {"air": air}, "setting": {}, **point, "setting.tolerance_mm": 30.0}
    cool = case.changed(bare)
    warm = cool.changed(
        {"need.air.coldest_c": air["coldest_c"] + warmer_k, "need.air.warmest_c": air["warmest_c"] + warmer_k}
    )
    assume(not cool.refusals and not warm.refusals)
    before, after = (one.plan.grounds.points[0] for one in (cool, warm))
    if TYPES[case.type_name].sensing.temperature_compensated:
        assert before.bench_mm == after.bench_mm == 400.0
    else:
        # Sound is faster in the warm machine: an echo of the bench's air comes from nearer there.
        assert after.bench_mm <= before.bench_mm
        share = (before.bench_mm - after.bench_mm) / before.bench_mm
        assert share == pytest.approx(0.0017 * warmer_k, abs=0.0006 * warmer_k + 0.0004)
