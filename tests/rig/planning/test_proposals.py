"""Proposals: which mode, which output function, where, and why."""

from __future__ import annotations

from typing import Any

import pytest

from rig.planning.compile import make_plan
from rig.planning.grounds import Reason
from rig.planning.refusal import PlanRefused
from tests.rig.planning.cases import TYPES, NeedCase, needing, shipped
from wiring.terms import DetectionMode, OutputFunction

FULL_RANGE, SINGLE_POINT, WINDOW = DetectionMode
NO, NC = OutputFunction


def reason(case: NeedCase, choice: str) -> Reason:
    return next(one for one in case.plan.grounds.reasons if one.choice == choice)


@pytest.mark.parametrize(
    ("changes", "mode", "why"),
    [
        ({"need.background_mm": None}, FULL_RANGE, "no set point is needed"),
        ({}, SINGLE_POINT, "the background at 520 mm must not be reported: the zone ends before it"),
        ({"need.foreground_mm": 100.0}, WINDOW, "what stands in front, up to 100 mm, must not be reported"),
        ({"need.foreground_mm": 100.0, "need.background_mm": None}, WINDOW, "needs a near end too"),
        ({"need.background_mm": None, "setting.tolerance_mm": 9.0}, SINGLE_POINT, "a tolerance is ordered"),
        (
            {"need.background_mm": None, "need.broken_wire_reads": "an object"},
            SINGLE_POINT,
            "full range cannot be taught here",  # rail order knows full range as NO only
        ),
        ({"setting.mode": "window"}, WINDOW, "as ordered"),
    ],
)
def test_mode_follows_from_what_must_not_be_reported(
    changes: dict[str, Any], mode: DetectionMode, why: str
) -> None:
    case = needing().changed(changes)
    assert case.plan.mode is mode
    assert why in reason(case, "mode").why
    assert reason(case, "mode").proposed is ("setting.mode" not in changes)


def test_single_point_stays_the_proposal_though_the_stage_cannot_cover_the_face() -> None:
    case = needing(need__background_mm=None, rig__target__nearest_mm=80.0)
    assert case.plan.mode is SINGLE_POINT
    assert "full range cannot be taught here" in reason(case, "mode").why


@pytest.mark.parametrize(
    ("reads", "function", "why"),
    [
        ("no object", NO, "has to be taken for no object"),
        ("an object", NC, "has to be taken for an object"),
        (None, NO, "normally open is what the trade takes"),
    ],
)
def test_output_function_follows_from_what_a_broken_wire_may_look_like(
    reads: str | None, function: OutputFunction, why: str
) -> None:
    case = needing(need__broken_wire_reads=reads)
    assert case.plan.output_function is function
    assert why in reason(case, "output function").why


def test_a_set_point_lies_in_the_middle_of_its_room() -> None:
    point = needing().plan.grounds.points[0]
    inward, outward = (clearance.spare_mm for clearance in point.clear_of)
    # Differential travel and drift grow with distance, so the middle is not quite even.
    assert inward == pytest.approx(outward, abs=4.0)
    assert min(inward, outward) > 20


def test_a_window_keeps_clear_on_all_four_sides() -> None:
    near, far = needing(need__foreground_mm=100.0).plan.grounds.points
    assert [one.of for one in near.clear_of] == ["what stands in front", "the nearest object"]
    assert [one.of for one in far.clear_of] == ["the farthest object", "the background"]
    assert all(one.spare_mm > 15 for one in (*near.clear_of, *far.clear_of))
    assert near.machine_mm < 180 < 420 < far.machine_mm


def test_without_a_background_the_set_point_stays_near_the_objects() -> None:
    case = needing(need__background_mm=None, setting__mode="single-point")
    ((_, at_mm),) = case.plan.set_points
    assert 425 < at_mm < 1.1 * 440


def test_a_room_of_a_few_tenths_still_gets_a_set_point() -> None:
    refusal = needing(need__background_mm=440.0).refusals[0]
    assert isinstance(refusal.passes, float)
    plan = needing(need__background_mm=refusal.passes).plan
    assert all(0 <= one.spare_mm < 0.3 for one in plan.grounds.points[0].clear_of)
    assert "the room leaves no more" in plan.grounds.reasons[-1].why


def test_a_small_window_is_widened_to_what_the_type_can_hold() -> None:
    # The middles of both rooms lie less than 40 mm apart, which is what the type holds at least.
    need = {"nearest_mm": 1000.0, "farthest_mm": 1000.0, "foreground_mm": 940.0, "background_mm": 1062.0}
    case = needing("block-rail", need=need)
    (_, near_mm), (_, far_mm) = case.plan.set_points
    assert far_mm - near_mm >= TYPES["block-rail"].sensing.smallest_window_mm
    assert "for the widest window" in reason(case, "set point near").why


def test_a_window_that_cannot_be_wide_enough_is_refused_without_a_key_that_the_order_does_not_have() -> None:
    need = {"nearest_mm": 300.0, "farthest_mm": 300.0, "foreground_mm": 281.0, "background_mm": 320.0}
    (refusal,) = needing(need=need).refusals
    assert refusal.what == "window is smaller than the type can hold"
    assert (refusal.key, refusal.passes) == ("", None)


def test_tolerance_is_eased_where_there_is_room() -> None:
    assert "twice the finest" in reason(needing(), "tolerance").why
    assert reason(needing(setting__tolerance_mm=9.0), "tolerance").why == "as ordered"


@pytest.mark.parametrize(
    "left_out", [["tolerance_mm"], ["output_function"], ["at_mm", "tolerance_mm"], ["at_mm"]]
)
def test_what_is_ordered_is_kept_and_only_the_rest_proposed(left_out: list[str]) -> None:
    whole = {"mode": "single-point", "output_function": "NC", "at_mm": 465.0, "tolerance_mm": 7.0}
    setting = {key: value for key, value in whole.items() if key not in left_out}
    case = needing(setting=setting, need__broken_wire_reads=None)
    plan, proposed = case.plan, {one.choice for one in case.plan.grounds.reasons if one.proposed}
    names = {"at_mm": "set point only", "tolerance_mm": "tolerance", "output_function": "output function"}
    assert proposed == {names[key] for key in left_out}
    kept = {"at_mm": plan.set_points[0][1], "tolerance_mm": plan.tolerance_mm}
    assert {key: kept[key] for key in kept if key in setting} == {
        key: setting[key] for key in kept if key in setting
    }


def test_an_order_without_a_need_has_no_reasons_to_give() -> None:
    setting = {"mode": "single-point", "output_function": "NO", "at_mm": 400.0, "tolerance_mm": 8.0}
    grounds = needing(need=None, setting=setting).plan.grounds
    assert (grounds.need, grounds.reasons, grounds.air, grounds.motion) == ((), (), None, None)
    assert grounds.points[0].bench_mm == 400.0


def test_an_air_alone_may_be_stated_for_a_whole_setting() -> None:
    plan = shipped("tray-point-nc").plan
    assert {one.why for one in plan.grounds.reasons} == {"as ordered"}
    assert plan.grounds.points[0].bench_mm > 183  # out from 180 mm at 12 °C


def test_need_in_words() -> None:
    facts = {fact.name: fact.value for fact in shipped("cold-store-need").plan.grounds.need}
    assert facts == {
        "objects at": "180 to 420 mm",
        "object": "hard plate 1200 x 760 mm, up to 2 degrees out of square",
        "must not be reported behind": "from 520 mm",
        "broken wire reads as": "no object",
        "around it": "wall 150 mm beside the axis, next unit at 600 mm",
        "air": "-2 to 6 °C, 80 to 95 %, 210 m above the sea",
        "passing": "objects 1200 mm long at 0.6 m/s, gaps of 250 mm",
        "supply": "20.4 to 26.4 V, load 0.01 A",
    }


def test_the_known_types_that_would_do_are_named() -> None:
    # 1.2 m away: out of reach for the barrels of 300 and 800 mm.
    need = {"nearest_mm": 500.0, "farthest_mm": 1200.0, "background_mm": 1600.0}
    case = needing(need=need, setting={"output_type": "PNP"})
    with pytest.raises(PlanRefused) as refused:
        make_plan(case.order, case.sensor_type, case.profile, known=TYPES.values())
    fits = refused.value.fits
    assert fits is not None
    assert [fit.sensor_type for fit in fits] == ["barrel-30-length"]
    assert str(refused.value).endswith("would fit: barrel-30-length")
    assert fits[0].reasons[0].value == "single-point"
    # It is no promise: the order with that type can really be planned.
    assert case.changed({"type_name": "barrel-30-length"}).refusals == ()


def test_no_known_type_is_said_too_and_none_where_none_was_asked_for() -> None:
    case = needing(need__supply__highest_v=55.0)
    with pytest.raises(PlanRefused, match="no known sensor type would fit"):
        make_plan(case.order, case.sensor_type, case.profile, known=TYPES.values())
    with pytest.raises(PlanRefused) as refused:
        _ = case.plan
    assert refused.value.fits is None
    assert "fit" not in str(refused.value).splitlines()[-1]
