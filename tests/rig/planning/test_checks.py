"""Check positions: they prove good units good, bad ones bad, and never the other way round."""

from __future__ import annotations

from itertools import count, product
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rig.planning.plan import Approach, Requirement
from rig.planning.refusal import PlanRefused
from sequences.checks import CheckPlan
from tests.looking import examples
from tests.rig.planned import (
    BY_HAND,
    CORNERS,
    GRAIN_MM,
    STAGE,
    TYPES,
    Job,
    Unit,
    Wander,
    check_of,
    feasible_jobs,
    job,
    requirements,
    rig_with,
    verdict,
    wanders,
)
from wiring.terms import DetectionMode, OutputFunction

FULL_RANGE, SINGLE_POINT, WINDOW = DetectionMode
FEW = settings(max_examples=examples(15))
MANY = settings(max_examples=examples(40))
shares = st.sampled_from([0.0, 1.0]) | st.floats(0.0, 1.0)
EDGES = [
    (Requirement.OUTER_NOT_FAR, 1),
    (Requirement.OUTER_NOT_NEAR, -1),
    (Requirement.INNER_NOT_NEAR, -1),
    (Requirement.INNER_NOT_FAR, 1),
]


def outer_mm(made: Job) -> float:
    return max(made.setting.set_points_mm.values())


def tolerance_mm(made: Job) -> float:
    assert made.setting.tolerance_mm is not None
    return made.setting.tolerance_mm


def unit_of(
    made: Job, far_off_mm: float = 0.0, near_off_mm: float = 0.0, *, travel: float = 0.0, length: float = 1.0
) -> Unit:
    """A unit whose set points lie off by so much, with a share `travel` of the largest differential travel."""
    sensing = made.sensor_type.sensing
    points_mm = list(made.setting.set_points_mm.values())
    near_mm = points_mm[0] + near_off_mm if len(points_mm) == 2 else None
    far_mm = points_mm[-1] + far_off_mm if points_mm else sensing.range_mm * length
    return Unit(
        near_mm=near_mm
        if near_mm is not None
        else sensing.blind_zone_mm - made.guard_at_mm(sensing.blind_zone_mm),
        far_mm=far_mm,
        travel_near_mm=travel * sensing.hysteresis_largest_mm(near_mm) if near_mm is not None else 0.0,
        travel_far_mm=travel * sensing.hysteresis_largest_mm(far_mm),
        inverse=made.setting.output_function is OutputFunction.NC,
    )


def test_positions_of_a_single_point_worked_out_by_hand() -> None:
    # 400 mm +- 8 mm. Half-widths at 408 mm: 0.2 mm zero, 0.05 mm step, 0.2 mm placement, 0.05 % scale = 0.204 mm,
    # 1 degree of tilt = 0.062 mm, half of 0.5 % repeat accuracy = 1.02 mm; together 1.0809 mm.
    # Guard = 2 x 1.0809 / root 3 = 1.248 mm; travel = 3 % of 408 mm = 12.24 mm.
    plan = job("barrel-18-rail", at_mm=400, tolerance_mm=8).plan
    # What needs no clear beam between goes from position to position: one swing less each.
    assert [one.requirement for one in plan.checks if one.approach is Approach.FROM_LAST] == [
        Requirement.OUTER_NOT_NEAR,
        Requirement.OUTER_RELEASE,
    ]
    assert [(one.requirement, one.position_mm, one.proof_mm, one.expected_on) for one in plan.checks] == [
        (Requirement.DETECTS_INSIDE, 226.3, 226.3, True),  # half way between 62.0 and 390.7
        (Requirement.CLEAR_BEAM, None, None, False),
        (Requirement.OUTER_NOT_FAR, 406.7, 409.3, False),
        (Requirement.OUTER_NOT_NEAR, 393.3, 390.7, True),
        (Requirement.OUTER_RELEASE, 418.9, 421.5, False),
        (Requirement.BLIND_END, 62.0, 62.0, True),  # 2 mm behind the blind zone of 60 mm
    ]
    assert plan.guard_mm == pytest.approx(1.248, abs=5e-4)


def test_positions_of_a_window_worked_out_by_hand() -> None:
    # 400 to 1200 mm +- 25 mm by hand; half-widths of 0.2 mm zero, 0.05 mm step, 1 mm placement, and
    # of 425 and 1225 mm 0.05 % scale, 0.0152 % tilt, 0.25 % repeat accuracy: guards 1.7208 and 3.8002 mm;
    # travel = 3 % of 375 mm inward and of 1225 mm outward = 11.25 and 36.75 mm.
    plan = job("block-rail", WINDOW, "NC", rig=BY_HAND, near_mm=400, far_mm=1200, tolerance_mm=25).plan
    assert [one.requirement for one in plan.checks if one.approach is Approach.FROM_LAST] == [
        Requirement.OUTER_NOT_NEAR,
        Requirement.OUTER_RELEASE,
        Requirement.INNER_NOT_FAR,
        Requirement.INNER_RELEASE,
    ]
    assert [(one.requirement, one.position_mm, one.proof_mm, one.expected_on) for one in plan.checks] == [
        (Requirement.DETECTS_INSIDE, 798.9, 798.9, False),
        (Requirement.CLEAR_BEAM, None, None, True),
        (Requirement.OUTER_NOT_FAR, 1221.1, 1228.9, True),
        (Requirement.OUTER_NOT_NEAR, 1178.9, 1171.1, False),
        (Requirement.OUTER_RELEASE, 1257.9, 1265.6, True),
        (Requirement.INNER_NOT_NEAR, 376.8, 373.2, True),
        (Requirement.INNER_NOT_FAR, 423.2, 426.8, False),
        (Requirement.INNER_RELEASE, 365.5, 362.0, True),
        (Requirement.BLIND_END, 122.5, 122.5, True),
    ]


def test_positions_of_full_range_worked_out_by_hand() -> None:
    plan = job("block-rail", FULL_RANGE).plan
    assert [(one.requirement, one.position_mm, one.expected_on) for one in plan.checks] == [
        (Requirement.DETECTS_INSIDE, 1011.0, True),
        (Requirement.CLEAR_BEAM, None, False),
        (Requirement.BLIND_END, 122.0, True),
        (Requirement.RANGE_END, 1900.0, True),  # 95 % of 2 m
    ]


@MANY
@given(feasible_jobs())
def test_the_target_can_go_wherever_it_is_sent_and_never_stands_in_the_blind_zone(made: Job) -> None:
    target = made.rig.target
    for check in made.plan.checks:
        for at_mm in {check.position_mm, check.proof_mm} - {None}:
            assert at_mm is not None
            assert target.nearest_mm <= at_mm <= target.farthest_mm
            assert at_mm - target.placement_mm >= made.sensor_type.sensing.blind_zone_mm
            assert at_mm == round(at_mm, 1)


@MANY
@given(feasible_jobs(SINGLE_POINT, WINDOW))
def test_set_points_are_read_inside_the_tolerance_by_the_guard_and_proven_outside_it_by_the_guard(
    made: Job,
) -> None:
    plan, points_mm = made.plan, list(made.setting.set_points_mm.values())
    assert plan.guard_mm == pytest.approx(made.guard_mm(points_mm[-1]))
    for requirement, side in EDGES:
        if requirement not in requirements(plan):
            assert made.mode is SINGLE_POINT
            continue
        check = check_of(plan, requirement)
        point_mm = points_mm[0] if requirement.name.startswith("INNER") else points_mm[-1]
        guard_mm = made.guard_mm(point_mm)
        assert check.position_mm is not None
        inside_mm = tolerance_mm(made) - guard_mm - side * (check.position_mm - point_mm)
        assert -1e-6 <= inside_mm <= GRAIN_MM
        if check.proof_mm is None:
            assert point_mm + tolerance_mm(made) + guard_mm + GRAIN_MM > made.rig.target.farthest_mm
        else:
            outside_mm = side * (check.proof_mm - point_mm) - tolerance_mm(made) - guard_mm
            assert -1e-6 <= outside_mm <= GRAIN_MM


@MANY
@given(feasible_jobs(), wanders, st.tuples(*[st.floats(-1.0, 1.0)] * 2), shares)
def test_a_unit_well_inside_tolerance_passes_whatever_the_errors(
    made: Job, wander: Wander, off: tuple[float, float], travel: float
) -> None:
    points_mm = list(made.setting.set_points_mm.values()) or [0.0]
    near_mm, far_mm = (
        share * ((made.setting.tolerance_mm or 0.0) - 2 * made.guard_mm(point_mm) - GRAIN_MM)
        for share, point_mm in zip(off, (points_mm[0], points_mm[-1]), strict=True)
    )
    unit = unit_of(made, far_mm, near_mm, travel=travel)
    # Of the release points that are allowed, the one furthest in belongs to the nearest operate point allowed.
    nearest_mm = points_mm[0] - (made.setting.tolerance_mm or 0.0)
    unit.travel_near_mm = min(
        unit.travel_near_mm, made.sensor_type.sensing.hysteresis_largest_mm(max(0.0, nearest_mm))
    )
    assert verdict(made, unit, wander) == "good"


@MANY
@given(feasible_jobs(SINGLE_POINT, WINDOW), wanders, st.tuples(*[st.floats(-1.0, 1.0)] * 2), shares)
def test_a_unit_inside_tolerance_is_never_condemned(
    made: Job, wander: Wander, off: tuple[float, float], travel: float
) -> None:
    near_mm, far_mm = (share * tolerance_mm(made) for share in off)
    assert verdict(made, unit_of(made, far_mm, near_mm, travel=travel), wander) != "bad"


def tightest_jobs(type_name: str) -> tuple[Job, Job]:
    """The set point nearest to the blind zone, and the smallest window, that are planned at all."""
    sensing = TYPES[type_name].sensing
    wide_mm, near_mm = round(0.05 * sensing.range_mm, 1), round(0.4 * sensing.range_mm, 1)
    points = (
        job(type_name, at_mm=sensing.blind_zone_mm + wide_mm + tenths / 10, tolerance_mm=wide_mm)
        for tenths in count()
    )
    windows = (
        job(
            type_name,
            WINDOW,
            near_mm=near_mm,
            far_mm=near_mm + 2 * wide_mm + tenths / 10,
            tolerance_mm=wide_mm,
        )
        for tenths in count(1)
    )
    return next(filter(can_be_planned, points)), next(filter(can_be_planned, windows))


def can_be_planned(made: Job) -> bool:
    try:
        return made.plan is not None
    except PlanRefused:
        return False


@pytest.mark.parametrize("type_name", sorted(TYPES))
def test_even_in_the_tightest_places_a_unit_inside_tolerance_is_never_condemned(type_name: str) -> None:
    for made in tightest_jobs(type_name):
        limits = (-tolerance_mm(made), 0.0, tolerance_mm(made))
        for wander, far_mm, near_mm in product(CORNERS, limits, limits):
            assert verdict(made, unit_of(made, far_mm, near_mm, travel=1.0), wander) != "bad"


@MANY
@given(
    feasible_jobs(SINGLE_POINT, WINDOW),
    wanders,
    st.sampled_from([-1, 1]),
    st.sampled_from([1e-6, 0.01, 0.5, 5.0]),
    shares,
    st.booleans(),
)
def test_a_unit_outside_tolerance_never_passes(
    made: Job, wander: Wander, side: int, beyond_mm: float, travel: float, at_near: bool
) -> None:
    off_mm = side * (tolerance_mm(made) + beyond_mm)
    at_near = at_near and made.mode is WINDOW
    unit = unit_of(made, 0.0 if at_near else off_mm, off_mm if at_near else 0.0, travel=travel)
    assert verdict(made, unit, wander) != "good"


@MANY
@given(feasible_jobs(SINGLE_POINT, WINDOW), wanders, st.sampled_from(EDGES), st.floats(0.0, 5.0), shares)
def test_a_unit_outside_by_two_guards_is_proven_bad(
    made: Job, wander: Wander, edge: tuple[Requirement, int], beyond_mm: float, travel: float
) -> None:
    requirement, side = edge
    inner = requirement.name.startswith("INNER") and made.mode is WINDOW
    points_mm = list(made.setting.set_points_mm.values())
    point_mm = points_mm[0] if inner else points_mm[-1]
    off_mm = tolerance_mm(made) + 2 * made.guard_mm(point_mm) + GRAIN_MM + beyond_mm
    # Far beyond its set point a unit spreads wider than the guard of the set point foresees.
    off_mm = side * off_mm * 1.05
    unit = unit_of(made, 0.0 if inner else off_mm, off_mm if inner else 0.0, travel=travel)
    found = verdict(made, unit, wander)
    checked = check_of(
        made.plan,
        {
            (True, 1): Requirement.INNER_NOT_FAR,
            (True, -1): Requirement.INNER_NOT_NEAR,
            (False, 1): Requirement.OUTER_NOT_FAR,
            (False, -1): Requirement.OUTER_NOT_NEAR,
        }[inner, side],
    )
    assert found == ("bad" if checked.proof_mm is not None else "undecided")


@MANY
@given(feasible_jobs(SINGLE_POINT, WINDOW), wanders, st.booleans())
def test_a_unit_with_a_wide_differential_travel_is_proven_bad(
    made: Job, wander: Wander, at_near: bool
) -> None:
    at_near = at_near and made.mode is WINDOW
    released = Requirement.INNER_RELEASE if at_near else Requirement.OUTER_RELEASE
    if released not in requirements(made.plan):
        assert any(str(released) in warning for warning in made.plan.warnings)
        return
    unit = unit_of(made)
    largest_mm = made.sensor_type.sensing.hysteresis_largest_mm(outer_mm(made) + tolerance_mm(made))
    wide_mm = 2 * tolerance_mm(made) + 4 * made.guard_mm(outer_mm(made)) + largest_mm + 2 * GRAIN_MM
    if at_near:
        unit.travel_near_mm = wide_mm
    else:
        unit.travel_far_mm = wide_mm
    proven = check_of(made.plan, released).proof_mm is not None
    assert verdict(made, unit, wander) == ("bad" if proven else "undecided")


@MANY
@given(
    feasible_jobs(SINGLE_POINT, WINDOW),
    wanders,
    st.tuples(*[st.floats(-1.0, 1.0)] * 2),
    st.sampled_from([1e-6, 0.01, 0.5, 5.0]),
    st.booleans(),
)
def test_a_unit_that_releases_beyond_what_its_type_may_never_passes(
    made: Job, wander: Wander, off: tuple[float, float], beyond_mm: float, at_near: bool
) -> None:
    at_near = at_near and made.mode is WINDOW
    released = Requirement.INNER_RELEASE if at_near else Requirement.OUTER_RELEASE
    if released not in requirements(made.plan):
        return
    near_mm, far_mm = (share * tolerance_mm(made) for share in off)
    unit, points_mm = unit_of(made, far_mm, near_mm), list(made.setting.set_points_mm.values())
    side = -1 if at_near else 1
    limit_mm = points_mm[0 if at_near else -1] + side * tolerance_mm(made)
    release_mm = limit_mm + side * (made.sensor_type.sensing.hysteresis_largest_mm(limit_mm) + beyond_mm)
    if at_near:
        unit.travel_near_mm = unit.near_mm - release_mm
    else:
        unit.travel_far_mm = release_mm - unit.far_mm
    assert verdict(made, unit, wander) != "good"


@FEW
@given(feasible_jobs(FULL_RANGE), wanders, st.floats(1.0, 1.5))
def test_full_range_with_all_of_its_range_passes(made: Job, wander: Wander, length: float) -> None:
    assert verdict(made, unit_of(made, length=length), wander) == "good"


@pytest.mark.parametrize("percent", [0.5, 5.0, 10.0])
@pytest.mark.parametrize("placement_mm", [0.1, 5.0])
@pytest.mark.parametrize("wander", CORNERS)
def test_full_range_of_a_type_that_wanders_widely_passes(
    percent: float, placement_mm: float, wander: Wander
) -> None:
    made = job("barrel-18-rail", FULL_RANGE, rig=rig_with(STAGE, placement_mm=placement_mm))
    sensing = made.sensor_type.sensing.model_copy(update={"repeat_accuracy_percent": percent})
    wide = Job(made.order, made.sensor_type.model_copy(update={"sensing": sensing}), made.rig)
    assert verdict(wide, unit_of(wide), wander) == "good"


@FEW
@given(feasible_jobs(FULL_RANGE), wanders)
def test_full_range_that_falls_short_is_proven_bad(made: Job, wander: Wander) -> None:
    last_mm = min(made.rig.target.farthest_mm, 0.95 * made.sensor_type.sensing.range_mm)
    short = (last_mm - 2 * made.guard_mm(last_mm) - GRAIN_MM) / made.sensor_type.sensing.range_mm
    assert verdict(made, unit_of(made, length=short), wander) == "bad"


@FEW
@given(feasible_jobs(), wanders)
def test_a_unit_that_sees_nothing_or_is_taught_the_wrong_way_round_is_proven_bad(
    made: Job, wander: Wander
) -> None:
    inverse = unit_of(made)
    inverse.inverse = not inverse.inverse
    blind = Unit(near_mm=0.0, far_mm=0.0, inverse=made.setting.output_function is OutputFunction.NC)
    assert verdict(made, blind, wander) == "bad"
    assert verdict(made, inverse, wander) == "bad"


@FEW
@given(feasible_jobs(SINGLE_POINT, WINDOW))
def test_normally_closed_expects_the_opposite_at_the_same_places(made: Job) -> None:
    setting = made.setting
    other = OutputFunction.NC if setting.output_function is OutputFunction.NO else OutputFunction.NO
    inverse = job(
        made.sensor_type.name,
        made.mode,
        other,
        rig=made.rig,
        **setting.model_dump(include={"at_mm", "near_mm", "far_mm", "tolerance_mm"}),
    ).plan
    for one, opposite in zip(made.plan.checks, inverse.checks, strict=True):
        assert opposite.expected_on is not one.expected_on
        assert (opposite.requirement, opposite.position_mm, opposite.proof_mm, opposite.approach) == (
            one.requirement,
            one.position_mm,
            one.proof_mm,
            one.approach,
        )


@FEW
@given(feasible_jobs())
def test_clear_beam_and_the_middle_of_the_zone_are_always_checked(made: Job) -> None:
    # The output stage is told by these two: without them nothing else means anything.
    assert requirements(made.plan)[:2] == [Requirement.DETECTS_INSIDE, Requirement.CLEAR_BEAM]


@FEW
@given(feasible_jobs(SINGLE_POINT, WINDOW))
def test_operate_points_are_read_with_the_target_coming_from_where_the_unit_does_not_detect(
    made: Job,
) -> None:
    # Differential travel would otherwise let a wrong operate point hide behind its release point.
    unit = unit_of(made)
    unit.inverse = False
    for check in made.plan.checks:
        if check.approach is Approach.FROM_CLEAR:
            unit.reads(None)
        if check.requirement in dict(EDGES):
            assert not unit.detects
        if check.requirement in (Requirement.OUTER_RELEASE, Requirement.INNER_RELEASE):
            assert unit.detects
        unit.reads(check.position_mm)


def test_what_lies_out_of_reach_is_left_out_and_said() -> None:
    made = job("barrel-18-rail", rig=rig_with(STAGE, farthest_mm=410.0), at_mm=400, tolerance_mm=8)
    assert Requirement.OUTER_RELEASE not in requirements(made.plan)
    assert made.plan.warnings == ("outer release point is not checked: 418.9 mm is out of reach",)


def test_a_proof_position_out_of_reach_leaves_a_wrong_reading_undecided() -> None:
    made = job("barrel-18-rail", rig=rig_with(STAGE, farthest_mm=408.0), at_mm=400, tolerance_mm=8)
    assert check_of(made.plan, Requirement.OUTER_NOT_FAR).proof_mm is None
    too_far = unit_of(made, far_off_mm=30)
    assert verdict(made, too_far, CORNERS[0]) == "undecided"


def test_a_release_point_in_the_blind_zone_is_left_out_and_said() -> None:
    made = job("block-rail", WINDOW, near_mm=150, far_mm=600, tolerance_mm=27)
    assert Requirement.INNER_RELEASE not in requirements(made.plan)
    assert [one for one in made.plan.warnings if "in the blind zone" in one]


def test_full_range_on_a_short_rig_says_how_far_it_was_checked() -> None:
    made = job("block-rail", FULL_RANGE, rig=BY_HAND)
    assert check_of(made.plan, Requirement.RANGE_END).position_mm == 1500.0
    assert made.plan.warnings == (
        "range is checked up to 1500.0 mm only: there the reach of the target ends",
    )


def test_the_check_near_the_blind_zone_is_made_only_where_it_is_wanted() -> None:
    without = CheckPlan(near_blind_zone=False)
    point: dict[str, Any] = {"at_mm": 900.0, "tolerance_mm": 20.0}
    for mode, distances in ((FULL_RANGE, {}), (SINGLE_POINT, point)):
        assert Requirement.BLIND_END in requirements(job("block-rail", mode, **distances).plan)
        wanted = job("block-rail", mode, checks=without, **distances)
        assert Requirement.BLIND_END not in requirements(wanted.plan)
