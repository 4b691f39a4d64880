"""Refusals: each names the limit and the value given, and the nearest value that it offers really passes."""

from __future__ import annotations

import re
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rig.planning.refusal import PlanRefused, Refusal
from sequences.order import Setting
from tests.looking import examples
from tests.rig.planned import BY_HAND, STAGE, TYPES, Job, feasible_jobs, guard_at_mm, job, rig_with
from wiring.profile import RigProfile, Slot, TargetKind
from wiring.terms import DetectionMode, OutputType

FULL_RANGE, SINGLE_POINT, WINDOW = DetectionMode
FEW = settings(max_examples=examples(15))
MANY = settings(max_examples=examples(50))


def refusals(made: Job) -> tuple[Refusal, ...]:
    try:
        _ = made.plan
    except PlanRefused as refused:
        return refused.refusals
    return ()


def only_refusal(made: Job, what: str) -> Refusal:
    found = refusals(made)
    assert [one.what for one in found] == [what]
    return found[0]


def number_in(words: str) -> float:
    found = re.search(r"\d+(\.\d+)?", words)
    assert found is not None
    return float(found[0])


def with_supply(rig: RigProfile = STAGE, **supply: float) -> RigProfile:
    return rig.model_copy(update={"supply": rig.supply.model_copy(update=supply)})


@MANY
@given(st.sampled_from(sorted(TYPES)), st.floats(0.2, 1.0), st.floats(0.02, 0.3), st.floats(0.05, 2.0))
def test_set_point_too_near(name: str, share: float, tolerance_share: float, placement_mm: float) -> None:
    blind_mm = TYPES[name].sensing.blind_zone_mm
    rig = rig_with(placement_mm=placement_mm)
    tolerance_mm = round(tolerance_share * blind_mm + 2 * placement_mm + 1, 2)
    at_mm = round(share * (blind_mm + tolerance_mm), 2)
    assume(tolerance_mm < at_mm)
    refusal = only_refusal(
        job(name, rig=rig, at_mm=at_mm, tolerance_mm=tolerance_mm),
        "set point only lies in the blind zone, or too close to it for the tolerance",
    )
    assert refusal.given == f"{at_mm:g} mm"
    assert f"blind zone {blind_mm:g} mm" in refusal.nearest
    nearest_mm = number_in(refusal.nearest)
    assert not refusals(job(name, rig=rig, at_mm=nearest_mm, tolerance_mm=tolerance_mm))
    assert refusals(job(name, rig=rig, at_mm=nearest_mm - 0.1, tolerance_mm=tolerance_mm))


@MANY
@given(
    st.sampled_from(sorted(TYPES)), st.floats(0.001, 0.5), st.floats(0.01, 0.3), st.sampled_from([0.5, 2.0])
)
def test_set_point_too_far(name: str, beyond: float, tolerance_share: float, reach_share: float) -> None:
    sensing = TYPES[name].sensing
    reach_mm = round(reach_share * sensing.range_mm, 1)
    last_mm = min(reach_mm, sensing.range_mm)
    room_mm = (last_mm - sensing.blind_zone_mm) / 2
    tolerance_mm = min(500.0, round(tolerance_share * room_mm + 0.01 * last_mm + 0.5, 2))
    at_mm = round(last_mm - tolerance_mm + beyond * 3000 + 0.01, 2)
    rig = rig_with(farthest_mm=reach_mm)
    limit = "reach of the target" if reach_mm < sensing.range_mm else "sensing range"
    refusal = only_refusal(
        job(name, rig=rig, at_mm=at_mm, tolerance_mm=tolerance_mm),
        f"set point only lies beyond the {limit}, or too close to its end for the tolerance",
    )
    assert refusal.given == f"{at_mm:g} mm"
    nearest_mm = number_in(refusal.nearest)
    assert not refusals(job(name, rig=rig, at_mm=nearest_mm, tolerance_mm=tolerance_mm))
    assert refusals(job(name, rig=rig, at_mm=nearest_mm + 0.1, tolerance_mm=tolerance_mm))


def test_set_point_nearer_than_the_target_can_come() -> None:
    rig = rig_with(BY_HAND, nearest_mm=150.0)
    refusal = only_refusal(
        job("barrel-18-rail", rig=rig, at_mm=120, tolerance_mm=8),
        "set point only lies in the nearest place of the target, or too close to it for the tolerance",
    )
    assert not refusals(job("barrel-18-rail", rig=rig, at_mm=number_in(refusal.nearest), tolerance_mm=8))


@MANY
@given(feasible_jobs(SINGLE_POINT, WINDOW), st.floats(0.05, 0.999))
def test_tolerance_finer_than_provable(made: Job, share: float) -> None:
    points_mm = made.setting.model_dump(include={"at_mm", "near_mm", "far_mm"}, exclude_none=True)
    outer_mm = max(points_mm.values())
    finest_mm = 2 * made.guard_at_mm(outer_mm)
    tolerance_mm = round(share * finest_mm, 3)

    def same(tolerance_mm: float) -> tuple[Refusal, ...]:
        name, mode = made.sensor_type.name, made.mode
        return refusals(job(name, mode, rig=made.rig, **points_mm, tolerance_mm=tolerance_mm))

    refusal = same(tolerance_mm)[0]
    assert refusal.what == "tolerance is finer than this rig can prove with this type"
    assert refusal.given == f"{tolerance_mm:g} mm"
    nearest_mm = number_in(refusal.nearest)
    assert refusal.what not in [one.what for one in same(nearest_mm)]
    assert refusal.what in [one.what for one in same(nearest_mm - 0.01)]
    if nearest_mm <= (made.setting.tolerance_mm or 0.0):
        assert not same(nearest_mm)


@MANY
@given(st.sampled_from(sorted(TYPES)), st.floats(0.2, 0.6), st.floats(0.05, 0.99), st.booleans())
def test_window_too_small(name: str, near_share: float, window_share: float, wide_tolerance: bool) -> None:
    sensing = TYPES[name].sensing
    near_mm = round(sensing.blind_zone_mm + near_share * (sensing.range_mm - sensing.blind_zone_mm), 1)
    window_mm = round(window_share * sensing.smallest_window_mm, 1)
    far_mm = near_mm + sensing.smallest_window_mm
    finest_mm = 0.1 + 2.04 * guard_at_mm(TYPES[name], STAGE, far_mm)
    tolerance_mm = round(0.49 * window_mm if wide_tolerance else finest_mm, 2)
    assume(finest_mm <= tolerance_mm < window_mm / 2)

    def windowed(window_mm: float) -> Job:
        return job(name, WINDOW, near_mm=near_mm, far_mm=near_mm + window_mm, tolerance_mm=tolerance_mm)

    refusal = refusals(windowed(window_mm))[-1]
    assert refusal.what in (
        "window is smaller than the type can hold",
        "window is smaller than this rig can prove at this tolerance",
    )
    assert refusal.given == f"{window_mm:g} mm"
    nearest_mm = number_in(refusal.nearest)
    assert nearest_mm >= sensing.smallest_window_mm
    assert not refusals(windowed(nearest_mm))
    assert refusals(windowed(nearest_mm - 0.1))


def test_a_window_that_holds_but_that_tolerances_fill_is_refused_too() -> None:
    # 60 mm are enough for the type, but at +-29 mm the ends could not be told apart by the guard.
    refusal = only_refusal(
        job("block-rail", WINDOW, near_mm=900, far_mm=960, tolerance_mm=29),
        "window is smaller than this rig can prove at this tolerance",
    )
    assert number_in(refusal.nearest) == pytest.approx(
        2 * 29 + guard_at_mm(TYPES["block-rail"], STAGE, 929) + guard_at_mm(TYPES["block-rail"], STAGE, 992),
        abs=0.2,
    )


def test_tolerance_that_leaves_no_set_point() -> None:
    what = "tolerance leaves no room for a set point within sensing range and reach"
    refusal = only_refusal(job("barrel-18-rail", at_mm=440, tolerance_mm=390), what)
    assert refusal.given == "390 mm"
    largest_mm = number_in(refusal.nearest)
    assert 360 < largest_mm < 370
    assert not refusals(job("barrel-18-rail", at_mm=800 - largest_mm, tolerance_mm=largest_mm - 0.5))


@pytest.mark.parametrize("mode", [FULL_RANGE, SINGLE_POINT])
def test_target_that_does_not_reach_the_sensing_range(mode: DetectionMode) -> None:
    distances: dict[str, Any] = {"at_mm": 40.0, "tolerance_mm": 5.0} if mode is SINGLE_POINT else {}
    for reach in ({"farthest_mm": 61.0}, {"nearest_mm": 900.0}):
        made = job("barrel-18-rail", mode, rig=rig_with(BY_HAND, **reach), **distances)
        refusal = only_refusal(made, "target does not reach the sensing range")
        assert refusal.given == f"{made.rig.target.nearest_mm:g} to {made.rig.target.farthest_mm:g} mm"
        assert refusal.nearest == "a reach from 60 to 800 mm"
    assert not refusals(job("barrel-18-rail", FULL_RANGE, rig=rig_with(nearest_mm=0.0, farthest_mm=800.0)))


def test_type_with_hardly_any_range() -> None:
    made = job("barrel-18-rail", FULL_RANGE)
    # 95 % of 64.5 mm lie within the 2 mm that are kept clear of the blind zone.
    sensing = made.sensor_type.sensing.model_copy(update={"range_mm": 64.5})
    short = made.sensor_type.model_copy(update={"sensing": sensing})
    only_refusal(Job(made.order, short, made.rig), "target does not reach the sensing range")


def test_stage_that_cannot_cover_the_face() -> None:
    what = "stage does not come near enough to cover the face"
    refusal = only_refusal(job("barrel-18-rail", FULL_RANGE, rig=rig_with(nearest_mm=70.0)), what)
    assert refusal.given == "70 mm"
    nearest_mm = number_in(refusal.nearest)
    assert nearest_mm + STAGE.target.placement_mm <= 60
    assert not refusals(job("barrel-18-rail", FULL_RANGE, rig=rig_with(nearest_mm=nearest_mm)))
    # A person covers the face without a stage, and a single point needs no covered face.
    assert not refusals(job("barrel-18-rail", FULL_RANGE, rig=rig_with(BY_HAND, nearest_mm=70.0)))
    assert not refusals(job("barrel-18-rail", rig=rig_with(nearest_mm=70.0), at_mm=400, tolerance_mm=8))


def test_target_without_the_slots_that_the_order_needs() -> None:
    def slotted(*positions_mm: float, full_range: bool = False) -> Job:
        slots = tuple(
            Slot(number=number, position_mm=at_mm, line=f"GPIO{number + 1}")
            for number, at_mm in enumerate(sorted(positions_mm), start=1)
        )
        rig = rig_with(BY_HAND, kind=TargetKind.SLOTS, placement_mm=0.2, slots=slots)
        if full_range:
            return job("barrel-18-rail", FULL_RANGE, rig=rig)
        return job("barrel-18-rail", rig=rig, at_mm=400, tolerance_mm=8)

    refusal = only_refusal(slotted(100, 400), "target has no slot where this order needs one")
    assert refusal.given == "100, 400 mm"
    missing_mm = [float(one) for one in re.findall(r"\d+\.?\d*", refusal.nearest)]
    assert missing_mm == [62.0, 226.3, 390.7, 393.3, 406.7, 409.3, 418.9, 421.5]
    assert not refusals(slotted(100, 400, *missing_mm))
    # The face is covered by hand: that takes no slot.
    assert not refusals(slotted(62.0, 411.0, 760.0, full_range=True))


def test_sequence_not_offered() -> None:
    name = "barrel-18-rail"
    refusal = only_refusal(job(name, FULL_RANGE, "NC"), f"{name} cannot be taught this")
    assert refusal.given == "full-range NC"
    offered = refusal.nearest.split(", ")
    assert offered == [f"{mode} {function}" for mode, function in TYPES[name].offered]
    distances: dict[DetectionMode, dict[str, Any]] = {
        FULL_RANGE: {},
        SINGLE_POINT: {"at_mm": 400.0, "tolerance_mm": 8.0},
        WINDOW: {"near_mm": 200.0, "far_mm": 400.0, "tolerance_mm": 8.0},
    }
    for words in offered:
        other_mode, other_function = words.split()
        assert not refusals(job(name, other_mode, other_function, **distances[DetectionMode(other_mode)]))


@pytest.mark.parametrize("name", sorted(TYPES))
def test_output_type_not_offered(name: str) -> None:
    types = TYPES[name].output.types
    for wanted in OutputType:
        made = job(name, FULL_RANGE, output_type=wanted)
        if wanted in types:
            assert not refusals(made)
            assert made.plan.inspection.output_type is wanted
            continue
        refusal = only_refusal(made, f"{name} has no such output")
        assert refusal.given == wanted
        assert refusal.nearest.split(", ") == list(types)


@pytest.mark.parametrize("voltage_v", [11.9, 30.1, 48.0])
def test_supply_voltage_beyond_the_type(voltage_v: float) -> None:
    refusal = only_refusal(
        job("block-rail", FULL_RANGE, rig=with_supply(voltage_v=voltage_v)),
        "supply of the rig does not suit the type",
    )
    assert refusal.given == f"{voltage_v:g} V"
    assert refusal.nearest == "12 to 30 V"
    for passes_v in (12.0, 24.0, 30.0):
        assert not refusals(job("block-rail", FULL_RANGE, rig=with_supply(voltage_v=passes_v)))


@pytest.mark.parametrize("limit_a", [0.01, 0.05])
def test_current_limit_that_would_hide_a_damaged_unit(limit_a: float) -> None:
    refusal = only_refusal(
        job("block-rail", FULL_RANGE, rig=with_supply(current_limit_a=limit_a)),
        "current limit of the rig's supply hides a unit that draws too much",
    )
    assert refusal.given == f"{limit_a:g} A"
    assert refusal.nearest == "more than 0.05 A"
    assert not refusals(job("block-rail", FULL_RANGE, rig=with_supply(current_limit_a=0.051)))


def test_setting_that_is_left_to_a_proposal() -> None:
    made = job("barrel-18-rail", WINDOW, near_mm=200, far_mm=400, tolerance_mm=8)
    for left_out in (["mode"], ["output_function"], ["near_mm", "far_mm"], ["tolerance_mm"]):
        setting = made.setting.model_copy(update=dict.fromkeys(left_out))
        found = refusals(Job(made.order.model_copy(update={"setting": setting}), made.sensor_type, made.rig))
        assert [one.what for one in found][: len(left_out)] == [
            f"{key} is left out of the setting" for key in left_out
        ]
        assert {one.given for one in found} == {"nothing"}


def test_every_reason_at_once_one_on_a_line() -> None:
    made = job(
        "barrel-12-count",
        WINDOW,
        output_type=OutputType.PUSH_PULL,
        rig=with_supply(rig_with(placement_mm=3.0), voltage_v=9.0, current_limit_a=0.02),
        near_mm=20,
        far_mm=26,
        tolerance_mm=2,
    )
    with pytest.raises(PlanRefused) as refused:
        _ = made.plan
    assert len(refused.value.refusals) == 7
    lines = str(refused.value).splitlines()
    assert len(lines) == 7
    for line, one in zip(lines, refused.value.refusals, strict=True):
        assert line == f"{one.what} (given {one.given}); possible: {one.nearest}"


@MANY
@given(feasible_jobs(SINGLE_POINT, WINDOW), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_tolerances_that_can_be_proven_leave_no_gap(made: Job, first: float, second: float) -> None:
    """What is too fine stays too fine when made finer, and what lies between two that pass, passes."""
    points_mm = made.setting.model_dump(include={"at_mm", "near_mm", "far_mm"}, exclude_none=True)
    given_mm = made.setting.tolerance_mm
    assert given_mm is not None

    def passes(tolerance_mm: float) -> bool:
        try:
            Setting.model_validate({**made.setting.model_dump(), "tolerance_mm": tolerance_mm})
        except ValueError:
            return False
        same = job(made.sensor_type.name, made.mode, rig=made.rig, **points_mm, tolerance_mm=tolerance_mm)
        return not refusals(same)

    coarser_mm, finer_mm = sorted((first * given_mm + 1e-3, second * given_mm + 1e-3), reverse=True)
    assert passes(given_mm)
    if passes(finer_mm):
        assert passes(min(coarser_mm, given_mm))
    if not passes(min(coarser_mm, given_mm)):
        assert not passes(finer_mm)


@FEW
@given(feasible_jobs(), st.floats(1.01, 30.0))
def test_a_worse_rig_never_proves_more(made: Job, factor: float) -> None:
    worse = rig_with(made.rig, placement_mm=made.rig.target.placement_mm * factor)
    infeasible = Job(made.order, made.sensor_type, worse)
    if refusals(infeasible):
        assert refusals(
            Job(made.order, made.sensor_type, rig_with(worse, placement_mm=worse.target.placement_mm * 1.5))
        )
