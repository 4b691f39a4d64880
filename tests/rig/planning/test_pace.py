"""Times on the bench: the expected parts, and whether teaching keeps to what the type allows."""

from __future__ import annotations

from typing import Any

import pytest

from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.planning.refusal import PlanRefused
from tests.rig.planning.cases import BY_HAND, NeedCase, needing

POINT: dict[str, Any] = {"mode": "single-point", "output_function": "NO", "at_mm": 400.0, "tolerance_mm": 8.0}
WINDOW: dict[str, Any] = {
    "mode": "window",
    "output_function": "NO",
    "near_mm": 200.0,
    "far_mm": 500.0,
    "tolerance_mm": 8.0,
}


def bare(setting: dict[str, Any], name: str = "barrel-18-rail", **changes: Any) -> NeedCase:
    return needing(name, need=None, setting=setting, **changes)


def with_timing(case: NeedCase, **times: float) -> Plan:
    timing = case.sensor_type.timing.model_copy(update=times)
    return make_plan(case.order, case.sensor_type.model_copy(update={"timing": timing}), case.profile)


def test_parts_add_up_to_the_expected_time() -> None:
    plan = bare(POINT).plan
    assert sum(part.seconds for part in plan.times) == pytest.approx(plan.expected_s)
    parts = {part.what: part.seconds for part in plan.times}
    assert parts["until the unit is available"] == 0.3
    assert parts["contacts and answers"] == pytest.approx(2 * (1.0 + 0.4 * 4.0))
    assert parts["target at teaching"] == pytest.approx(0.4 + 400 / 1000 + 0.05)
    assert parts["readings at checking"] == pytest.approx(6 * 8 * 0.05)


def test_pause_and_last_contact_worked_out_by_hand() -> None:
    teaching = bare(WINDOW).plan.grounds.teaching
    # Between the contacts the stage goes from 200 to 500 mm.
    assert teaching.longest_pause_s == pytest.approx(300 / 1000 + 0.05)
    # 0.3 s, two readings of 8 x 0.05 s, 200 mm, contact, 300 mm, contact.
    assert teaching.last_contact_s == pytest.approx(0.3 + 0.8 + 0.25 + 2.6 + 0.35 + 2.6)
    assert (teaching.timeout_s, teaching.window_s) == (90, 300)


def test_a_person_is_slower_than_a_stage() -> None:
    by_hand = NeedCase(need=None, setting=WINDOW, base=BY_HAND).changed({"setting.tolerance_mm": 12.0})
    assert by_hand.plan.grounds.teaching.longest_pause_s == 4.0


@pytest.mark.parametrize(
    ("times", "what"),
    [
        ({"teach_timeout_s": 0.3}, "unit gives up between two contacts"),
        ({"teach_window_s": 5.0}, "unit takes no more teaching so long after power-up"),
    ],
)
def test_teaching_that_takes_longer_than_the_type_waits_is_refused(
    times: dict[str, float], what: str
) -> None:
    with pytest.raises(PlanRefused, match=what):
        with_timing(bare(WINDOW), **times)
    assert with_timing(bare(WINDOW), teach_timeout_s=0.4, teach_window_s=7.0)


def test_a_second_try_that_comes_too_late_is_not_planned() -> None:
    case = bare(WINDOW)
    assert case.plan.retries == 1
    once = with_timing(case, teach_window_s=9.0)
    assert once.retries == 0
    assert any("is not tried again" in one for one in once.warnings)


def test_a_hand_that_is_too_slow_is_told_to_let_a_stage_do_it() -> None:
    by_hand = NeedCase(need=None, setting={**WINDOW, "tolerance_mm": 12.0}, base=BY_HAND)
    with pytest.raises(PlanRefused) as refused:
        with_timing(by_hand, teach_timeout_s=3.0)
    (refusal,) = refused.value.refusals
    assert refusal.nearest == "3 s or less, with a target that needs no hand"


def _with_relay(case: NeedCase, **times: float) -> NeedCase:
    nest = case.profile.nest[0].model_dump()
    nest["teach_contact"] |= times
    nest["rail_selector"] |= {"release_s": 0.45}
    return case.changed({"rig.nest": (nest,), "rig.dead_time_s": 0.9})


def test_relays_too_slow_for_a_short_contact_are_refused() -> None:
    counted = {"mode": "single-point", "output_function": "NC", "at_mm": 180.0, "tolerance_mm": 5.0}
    case = bare(counted, "barrel-12-count", setting__output_type="NPN")
    assert case.refusals == ()
    # 0.3 s may last 0.5 s at most: a release of 0.25 s would outlast it.
    (refusal,) = {one.what: one for one in _with_relay(case, release_s=0.25).refusals}.values()
    assert "a contact of 0.3 s may outlast its limit" in refusal.what
    assert refusal.nearest.startswith("0.2 s or less")
    assert _with_relay(case, release_s=0.19).refusals == ()
    # Six contacts 0.4 s apart: one that opens later still runs into the next.
    assert any(
        "a gap of 0.4 s may be missed" in one.what for one in _with_relay(case, release_s=0.4).refusals
    )
