"""Units that are already set, surveyed over pins and wires as on a real bench, against the truth behind them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

from rig.events import (
    ContactEnded,
    EdgeBegun,
    EdgeMeasured,
    EdgeNotMeasured,
    Event,
    OrderInputs,
    OrderStarted,
    OutputRead,
    Purpose,
    StepStarted,
    TargetMoved,
    UnitRecognised,
    Verdict,
)
from rig.recount.recount import recount
from rig.survey.exploring import SEARCH
from tests.rig.planned import STAGE, TYPES, rig_with
from tests.rig.recount.replays import assert_recount_agrees, attempts_in, changed, without
from tests.rig.survey.surveyed import SetUnit, Surveyed, set_units, survey
from wiring.terms import DetectionMode

WINDOW = {"mode": "window", "near_mm": 150.0, "far_mm": 450.0}
POINT = {"mode": "single-point", "near_mm": 300.0}
LATE = {"mode": "window", "near_mm": 720.0, "far_mm": 745.0}
# Every mode and output function of every shipped type, with every output type that it comes with.
SETTINGS = sum(len(one.offered) * len(one.output.types) for one in TYPES.values())


def assert_recovered(units: Iterable[SetUnit]) -> list[float]:
    """Survey units; every one must be told right. Returns the errors of their set points in uncertainties."""
    errors: list[float] = []
    for unit in units:
        seen = unit.survey()
        assert seen.finding.verdict is Verdict.GOOD, (unit, seen.finding)
        assert seen.recognised == unit.expected, (unit, seen.finding)
        assert seen.contacts == 0
        if unit.made.mode is not DetectionMode.FULL_RANGE:
            errors += seen.misses.values()
    return errors


def test_units_of_every_type_and_setting_are_recovered() -> None:
    errors = assert_recovered(set_units(SETTINGS, seed=1))
    assert sum(error > 1 for error in errors) <= 0.05 * len(errors)
    assert max(errors) < 1.5


@pytest.mark.slow
def test_a_thousand_set_units_are_recovered_without_error_and_set_points_within_u_in_95_percent() -> None:
    errors = assert_recovered(set_units(1000, seed=2026))
    assert sum(error > 1 for error in errors) <= 0.05 * len(errors)


def test_nothing_of_a_survey_touches_the_teach_wire() -> None:
    for arrives in (WINDOW, POINT, None):
        seen = survey("barrel-18-rail", arrives)
        assert seen.noted(ContactEnded) == []
        assert seen.noted(StepStarted) == []
        assert list(seen.record.contacts) == []
        assert list(seen.record.incidents) == []
        # The contact itself, as the relay closed it, whatever the unit made of it.
        assert seen.contacts == 0


def test_the_record_tells_what_was_done_and_found() -> None:
    seen = survey("barrel-18-rail", WINDOW)
    (started,), (inputs,) = seen.noted(OrderStarted), seen.noted(OrderInputs)
    assert started.purpose is Purpose.SURVEY
    assert inputs.order["serial"] == "S-1"
    assert inputs.sensor_type["name"] == "barrel-18-rail"
    assert inputs.rig["name"] == STAGE.name
    assert [one.edge for one in seen.noted(EdgeBegun)] == ["outer", "inner"]
    assert [one.edge for one in seen.noted(EdgeMeasured)] == ["outer", "inner"]
    assert seen.noted(UnitRecognised) == [UnitRecognised("window", "NO", "PNP", "")]
    assert seen.finding.words.startswith("window NO from 15")


@pytest.mark.parametrize(
    "arrives",
    [WINDOW, POINT, None, {"mode": "single-point", "near_mm": 797.0}],
    ids=["window", "point", "factory", "ambiguous"],
)
def test_every_survey_comes_out_of_its_record_again(arrives: dict[str, Any] | None) -> None:
    assert_recount_agrees(survey("barrel-18-rail", arrives).events)


def test_so_does_one_that_found_nothing_or_was_cut_short() -> None:
    for faults in ([{"kind": "dead"}], [{"kind": "noisy-echo", "factor": 40.0}]):
        assert_recount_agrees(survey("barrel-18-rail", POINT, faults=faults).events)
    stop = {"fault": [{"kind": "stop-pressed", "after_s": 20.0}]}
    assert_recount_agrees(survey("barrel-18-rail", POINT, bench=stop).events)


@pytest.mark.parametrize("kind", [EdgeMeasured, UnitRecognised, OutputRead])
def test_a_changed_record_of_a_survey_shows(kind: type[Event]) -> None:
    (attempt,) = attempts_in(survey("barrel-18-rail", POINT).events)
    index = next(at for at, one in enumerate(attempt.events) if isinstance(one.event, kind))
    values: dict[type[Event], dict[str, Any]] = {
        EdgeMeasured: {"operate_mm": 600.0},
        UnitRecognised: {"mode": "window"},
        OutputRead: {"level": "at L-"},
    }
    assert recount(attempt).agrees
    assert not recount(changed(attempt, index, **values[kind])).agrees
    assert not recount(without(attempt, index)).agrees


def test_the_search_goes_outwards_and_ends_where_the_zone_begins() -> None:
    seen = survey("barrel-18-rail", LATE)
    moves = [one.position_mm or 0.0 for one in seen.noted(TargetMoved) if one.where == SEARCH]
    search = moves[: next(number for number, at_mm in enumerate(moves) if at_mm >= 720) + 1]
    assert search == sorted(search)
    assert search[0] == 62.0
    assert len(search) == 67
    assert max(seen.misses.values()) < 1.5


def test_every_later_position_is_reached_from_a_clear_beam() -> None:
    """Else what the unit detected at the last one, by its differential travel, would decide."""
    moves = survey("barrel-18-rail", POINT).noted(TargetMoved)
    searched = [number for number, move in enumerate(moves) if move.where == SEARCH]
    assert len(searched) > 5
    assert all(moves[number - 1].where == "clear" for number in searched)


@pytest.mark.parametrize(
    ("fault", "reason"),
    [
        ({"kind": "dead"}, "no-current"),
        ({"kind": "over-current"}, "over-current"),
        ({"kind": "noisy-echo", "factor": 15.0}, "output-chatters"),
        ({"kind": "wrong-kind", "actual": "block-rail"}, "ambiguous"),
    ],
)
def test_faulty_units_are_no_models(fault: dict[str, Any], reason: str) -> None:
    seen = survey("barrel-18-rail", POINT, faults=[fault])
    assert seen.finding.verdict is not Verdict.GOOD
    assert seen.finding.reason == reason


def test_a_unit_of_another_output_type_is_told_as_what_it_is() -> None:
    assert survey("barrel-18-rail", POINT, change={"output_type": "NPN"}).recognised[2] == "NPN"
    odd = survey("barrel-18-rail", POINT, change={"output_type": "push-pull"})
    assert odd.finding.reason == "ambiguous"
    assert "output is push-pull" in odd.finding.words


def faulty(*faults: dict[str, Any], arrives: dict[str, Any] = POINT, **row: Any) -> Surveyed:
    return survey("barrel-18-rail", arrives, bench={"fault": list(faults)}, **row)


@pytest.mark.parametrize("function", ["NO", "NC"])
def test_an_open_output_wire_is_told_from_a_unit_that_detects_nothing_by_its_led(function: str) -> None:
    arrives = POINT | {"output_function": function}
    seen = faulty({"kind": "output-open"}, arrives=arrives)
    assert seen.finding.reason == "output-open"
    assert "LED switches" in seen.finding.words
    blind = faulty({"kind": "output-open"}, arrives=arrives, faults=[{"kind": "led-dark"}])
    assert (blind.finding.verdict, blind.finding.reason) == (Verdict.UNDECIDED, "not-detected")


@pytest.mark.parametrize("rail", ["L+", "L-"])
def test_a_shorted_output_is_told(rail: str) -> None:
    seen = faulty({"kind": "output-shorted", "rail": rail})
    assert (seen.finding.verdict, seen.finding.reason) == (Verdict.UNDECIDED, "output-stuck")


def test_a_unit_with_nothing_to_detect_is_undecided_and_says_where_to_look() -> None:
    seen = survey("barrel-18-rail", {"mode": "window", "near_mm": 820.0, "far_mm": 840.0})
    assert (seen.finding.verdict, seen.finding.reason) == (Verdict.UNDECIDED, "not-detected")
    assert "face one another" in seen.finding.words
    assert seen.noted(UnitRecognised) == []


def test_a_unit_that_changes_its_mind_is_named_and_gives_no_setting() -> None:
    faults = [{"kind": "target-misplaced", "offset_mm": 12.0, "after_s": 35.0}]
    seen = faulty(*faults)
    assert seen.finding.verdict is Verdict.UNDECIDED
    assert seen.noted(EdgeNotMeasured) != []
    assert seen.noted(UnitRecognised) == []


def test_a_set_point_at_the_very_end_of_the_range_is_not_guessed() -> None:
    seen = survey("barrel-30-length", {"mode": "single-point", "near_mm": 5973.0})
    assert (seen.finding.verdict, seen.finding.reason) == (Verdict.UNDECIDED, "ambiguous")
    assert seen.recognised[0] == ""
    assert "set point, or full range" in seen.finding.words


def test_a_window_from_the_end_of_the_blind_zone_on_is_not_guessed() -> None:
    seen = survey("barrel-18-rail", {"mode": "window", "near_mm": 62.3, "far_mm": 300.0})
    assert seen.finding.verdict is Verdict.UNDECIDED
    assert "blind zone" in seen.finding.words


def test_a_unit_set_beyond_the_reach_of_the_target_is_not_guessed() -> None:
    seen = survey("barrel-18-rail", POINT | {"near_mm": 700.0}, rig=rig_with(farthest_mm=600.0))
    assert (seen.finding.verdict, seen.finding.reason) == (Verdict.UNDECIDED, "ambiguous")
    assert "as far as it reaches" in seen.finding.words


def test_units_in_other_air_are_measured_where_they_switch_there() -> None:
    air = {"temperature_c": 5.0, "humidity_percent": 80.0}
    rig = STAGE.model_copy(update={"air": STAGE.air.model_copy(update=air)})
    for type_name, arrives in (("barrel-12-count", POINT | {"near_mm": 150.0}), ("barrel-18-plain", None)):
        seen = survey(type_name, arrives, rig=rig, bench={"air": air})
        assert seen.finding.verdict is Verdict.GOOD, seen.finding
        assert seen.recognised[0] == ("single-point" if arrives else "full-range")
        assert max(seen.misses.values()) < 1.5
