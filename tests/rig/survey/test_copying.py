"""Orders that set others like a surveyed unit: the figures in them, and what is done where a wish cannot be met."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rig.events import EdgeMeasured, UnitRecognised, Verdict
from rig.planning.refusal import PlanRefused
from rig.survey.bounds import bounds_of
from rig.survey.copying import Copy, Wishes, copy_number, copy_of
from rig.survey.report import SurveyReport
from tests.looking import examples
from tests.rig.planned import STAGE, Job, feasible_jobs, guard_at_mm, job, rig_with
from wiring.profile import RigProfile


def edge(name: str, at_mm: float, u_mm: float, travel_mm: float = 4.0) -> EdgeMeasured:
    release_mm = at_mm + travel_mm if name == "outer" else at_mm - travel_mm
    figures = (at_mm, u_mm, release_mm, u_mm, travel_mm, u_mm)
    return EdgeMeasured(name, "step by step", *figures, None, None, None, None, None, 80, 120)


def report_of(
    made: Job, u_mm: float = 0.3, *, serial: str = "QOC-7", verdict: Verdict = Verdict.GOOD
) -> SurveyReport:
    setting = made.setting
    points_mm = list(setting.set_points_mm.values())
    names = {1: ("outer",), 2: ("inner", "outer")}.get(len(points_mm), ())
    edges = {name: edge(name, at_mm, u_mm) for name, at_mm in zip(names, points_mm, strict=True)}
    doubts = "" if verdict is Verdict.GOOD else "a set point, or full range"
    recognised = UnitRecognised(
        str(setting.mode), str(setting.output_function), str(setting.output_type), doubts
    )
    utc = "2026-01-05T07:02:00.000Z"
    return SurveyReport(serial, verdict, "recognised", "found", utc, 90.0, 0.03, 0, recognised, edges)


def copied(made: Job, tolerance_mm: float | None = None, rig: RigProfile = STAGE, u_mm: float = 0.3) -> Copy:
    wishes = Wishes(made.sensor_type.name, 5, tolerance_mm)
    return copy_of(report_of(made, u_mm), made.sensor_type, rig, wishes)


WINDOW = job("barrel-18-rail", "window", near_mm=150.04, far_mm=450.26, tolerance_mm=8.0)


def test_set_points_are_as_measured_to_what_can_be_set_on_a_bench() -> None:
    copy = copied(WINDOW)
    assert (copy.order.setting.near_mm, copy.order.setting.far_mm) == (150.0, 450.3)
    assert copy.order.quantity == 5
    assert copy.order.unit_serials()[0] == "COPY-QOC-7-001"
    assert copy.why_not == ""


def test_the_proposed_tolerance_holds_survey_teaching_and_guard() -> None:
    tolerance_mm = copied(WINDOW, u_mm=0.5).order.setting.tolerance_mm
    assert tolerance_mm is not None
    teach_mm = 0.005 * 450.3  # repeat accuracy of the type
    needed_mm = 0.5 + teach_mm + guard_at_mm(WINDOW.sensor_type, STAGE, 450.3)
    assert needed_mm <= tolerance_mm <= 1.15 * needed_mm


def test_a_wish_that_can_be_met_is_met_and_another_is_replaced_with_the_reason() -> None:
    assert copied(WINDOW, 9.0).order.setting.tolerance_mm == 9.0
    fine = copied(WINDOW, 1.0)
    assert fine.order.setting.tolerance_mm != 1.0
    assert "finer than this rig can prove" in fine.why_not
    coarse = copied(WINDOW, 160.0)
    assert "would meet" in coarse.why_not


def test_a_setting_in_doubt_is_not_copied() -> None:
    doubtful = report_of(WINDOW, verdict=Verdict.UNDECIDED)
    with pytest.raises(ValueError, match="in doubt"):
        copy_of(doubtful, WINDOW.sensor_type, STAGE, Wishes("barrel-18-rail"))


def test_what_the_rig_cannot_do_at_any_tolerance_is_refused_with_the_reason() -> None:
    blunt = rig_with(placement_mm=15.0)
    narrow = job("barrel-18-rail", "window", near_mm=150.0, far_mm=175.0, tolerance_mm=2.0)
    with pytest.raises(PlanRefused, match="rig can prove"):
        copied(narrow, rig=blunt)


def test_the_air_of_the_bench_stands_for_the_machines_so_that_other_air_later_changes_nothing() -> None:
    plain = job("barrel-12-count", "single-point", "NC", at_mm=180.0, tolerance_mm=5.0)
    copy = copied(plain)
    assert copy.order.need is not None
    assert copy.order.need.air is not None
    assert copy.order.need.air.coldest_c == copy.order.need.air.warmest_c == STAGE.air.temperature_c
    cold = STAGE.model_copy(update={"air": STAGE.air.model_copy(update={"temperature_c": 5.0})})
    later = Job(copy.order, plain.sensor_type, cold)
    (point,) = later.plan.grounds.points
    # A time of flight taught in cold air has to be taught nearer: 3.1 % from 23 to 5 degrees C (Cramer 1993).
    assert point.bench_mm == pytest.approx(180.0 * 0.969, abs=0.3)
    assert copy.plan.grounds.points[0].bench_mm == 180.0


@given(made=feasible_jobs(), u_share=st.floats(0.2, 1.0), wish=st.none() | st.floats(0.01, 500))
@settings(max_examples=examples(60))
def test_whatever_can_be_planned_can_be_copied(made: Job, u_share: float, wish: float | None) -> None:
    farthest_mm = max([*made.setting.set_points_mm.values(), made.sensor_type.sensing.blind_zone_mm])
    u_mm = u_share * guard_at_mm(made.sensor_type, made.rig, farthest_mm) / 2
    copy = copied(made, wish, made.rig, u_mm)
    setting, wanted = copy.order.setting, made.setting
    assert (setting.mode, setting.output_function) == (wanted.mode, wanted.output_function)
    assert setting.output_type is wanted.output_type
    for point, at_mm in wanted.set_points_mm.items():
        assert abs(setting.set_points_mm[point] - at_mm) < 0.0501
    assert copy.plan.sensor_type == made.sensor_type.name


@pytest.mark.parametrize("serial", ["QOC-7", "a" * 40, "x._-"])
def test_the_number_of_the_order_leaves_room_for_its_serials(serial: str) -> None:
    assert len(f"{copy_number(serial)}-") <= 30
    report = report_of(WINDOW, serial=serial)
    assert copy_of(report, WINDOW.sensor_type, STAGE, Wishes("barrel-18-rail")).order.number == copy_number(
        serial
    )


def test_a_wide_differential_is_told_though_the_setting_is_clear() -> None:
    report, bounds = report_of(WINDOW), bounds_of(WINDOW.sensor_type, STAGE)
    assert list(report.cautions(WINDOW.sensor_type, bounds)) == []
    report.edges["outer"] = edge("outer", 450.0, 0.5, travel_mm=20.0)
    (caution,) = report.cautions(WINDOW.sensor_type, bounds)
    assert "no model for others" in caution


def test_with_full_range_goes_the_word_on_what_looks_the_same() -> None:
    full = job("barrel-18-rail", "full-range")
    (caution,) = report_of(full).cautions(full.sensor_type, bounds_of(full.sensor_type, STAGE))
    assert "797.6 mm" in caution
