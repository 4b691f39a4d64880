"""A plan: the steps that the sensor type prescribes, and figures that follow from order, type and rig."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import FrozenInstanceError
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings

from rig.planning.plan import (
    Answer,
    AwaitAnswer,
    AwaitOutput,
    MakeContact,
    PlaceTarget,
    Plan,
    PowerCycle,
    Rest,
)
from sequences.checks import CheckPlan
from sequences.datasheet import Timing
from sequences.library import find_order, find_type, load_order, load_type, shipped_orders
from sequences.steps import Contact, Expect, OutputState
from sequences.steps import PowerCycle as PowerCycleStep
from sequences.steps import Rest as RestStep
from tests.looking import examples
from tests.rig.planned import BY_HAND, STAGE, TYPES, Job, feasible_jobs, job, rig_with
from wiring.profile import RigProfile
from wiring.terms import DetectionMode, LedKind, OutputFunction, Rail

FULL_RANGE, SINGLE_POINT, WINDOW = DetectionMode
FEW = settings(max_examples=examples(15))
DISTANCES: dict[DetectionMode, dict[str, Any]] = {
    FULL_RANGE: {},
    SINGLE_POINT: {"at_mm": 0.5, "tolerance_mm": 0.05},
    WINDOW: {"near_mm": 0.3, "far_mm": 0.6, "tolerance_mm": 0.05},
}

# Which rail comes first, and what the target does, decides what a unit of the rail-order method learns.
# Common practice, no source.
RAIL_AND_ORDER = [
    (FULL_RANGE, "NO", [("cover", "L-"), ("clear", "L+")]),
    (SINGLE_POINT, "NO", [("clear", "L+"), ("only", "L-")]),
    (SINGLE_POINT, "NC", [("clear", "L-"), ("only", "L+")]),
    (WINDOW, "NO", [("near", "L-"), ("far", "L+")]),
    (WINDOW, "NC", [("near", "L+"), ("far", "L-")]),
]

# Until two to five seconds (near-span) or five to eight (far-span); on L+ the output function.
# Common practice, no source.
CONTACT_LENGTHS = [
    (FULL_RANGE, "NO", [("clear", "L-", "near-span"), ("clear", "L+", "near-span")]),
    (FULL_RANGE, "NC", [("clear", "L-", "near-span"), ("clear", "L+", "far-span")]),
    (SINGLE_POINT, "NO", [("only", "L-", "near-span"), ("only", "L+", "near-span")]),
    (SINGLE_POINT, "NC", [("only", "L-", "near-span"), ("only", "L+", "far-span")]),
    (WINDOW, "NO", [("near", "L-", "near-span"), ("far", "L-", "far-span"), ("far", "L+", "near-span")]),
    (WINDOW, "NC", [("near", "L-", "near-span"), ("far", "L-", "far-span"), ("far", "L+", "far-span")]),
]

# Contacts on L-: 1 only point, 2 near end, 3 far end, 4 full range, 5 NO, 6 NC. Common practice, no source.
CONTACT_COUNTS = [
    (FULL_RANGE, "NO", [("clear", 4), ("clear", 5)]),
    (FULL_RANGE, "NC", [("clear", 4), ("clear", 6)]),
    (SINGLE_POINT, "NO", [("only", 1), ("only", 5)]),
    (SINGLE_POINT, "NC", [("only", 1), ("only", 6)]),
    (WINDOW, "NO", [("near", 2), ("far", 3), ("far", 5)]),
    (WINDOW, "NC", [("near", 2), ("far", 3), ("far", 6)]),
]


def taught(name: str, mode: DetectionMode, output_function: str) -> Job:
    """The job with set points spread over the type's range."""
    distances_mm: dict[str, Any] = {
        key: share * TYPES[name].sensing.range_mm for key, share in DISTANCES[mode].items()
    }
    return job(name, mode, output_function, **distances_mm)


def contacts(plan: Plan) -> list[tuple[str, MakeContact]]:
    """Every contact, with where the target then stands."""
    where, made = "nowhere", []
    for step in plan.steps:
        if isinstance(step, PlaceTarget):
            where = step.where
        if isinstance(step, MakeContact):
            made.append((where, step))
    return made


@pytest.mark.parametrize("name", ["barrel-18-rail", "block-rail"])
@pytest.mark.parametrize(("mode", "output_function", "expected"), RAIL_AND_ORDER)
def test_rail_and_order(
    name: str, mode: DetectionMode, output_function: str, expected: list[tuple[str, str]]
) -> None:
    made = contacts(taught(name, mode, output_function).plan)
    assert [(where, str(contact.rail)) for where, contact in made] == expected
    for _, contact in made:
        assert contact.until == Answer("accepted", LedKind.FLASHING, 2.0)
        assert (contact.for_s, contact.times) == (None, 1)


@pytest.mark.parametrize(("mode", "output_function", "expected"), CONTACT_LENGTHS)
def test_contact_lengths(
    mode: DetectionMode, output_function: str, expected: list[tuple[str, str, str]]
) -> None:
    plan = taught("barrel-30-length", mode, output_function).plan
    made = contacts(plan)
    assert [(where, str(one.rail), one.until.name) for where, one in made if one.until] == expected
    spans_s = {"near-span": (2.0, 5.0), "far-span": (5.0, 8.0)}
    for _, contact in made:
        assert contact.until is not None
        first_s, last_s = spans_s[contact.until.name]
        assert first_s < contact.shortest_s < contact.longest_s < last_s
    assert_each_contact_is_followed_by(plan, [Answer("stored", LedKind.BLINKS, None, 2)] * len(made))


@pytest.mark.parametrize(("mode", "output_function", "expected"), CONTACT_COUNTS)
def test_contact_counts(mode: DetectionMode, output_function: str, expected: list[tuple[str, int]]) -> None:
    plan = taught("barrel-12-count", mode, output_function).plan
    made = contacts(plan)
    assert [(where, one.times) for where, one in made] == expected
    assert {one.rail for _, one in made} == {Rail.MINUS}
    for _, contact in made:
        assert contact.for_s is not None
        assert contact.until is None
        assert (contact.gap_s > 0) == (contact.times > 1)
    answers = [Answer(f"stored-{count}", LedKind.BLINKS, None, count) for _, count in expected]
    assert_each_contact_is_followed_by(plan, answers)


def assert_each_contact_is_followed_by(plan: Plan, answers: list[Answer]) -> None:
    found = [
        after.answer
        for before, after in pairwise(plan.steps)
        if isinstance(before, MakeContact) and isinstance(after, AwaitAnswer)
    ]
    assert found == answers


@FEW
@given(feasible_jobs())
def test_no_contact_goes_beyond_what_the_type_takes(made: Job) -> None:
    limits = made.sensor_type.contact
    for _, contact in contacts(made.plan):
        assert limits.shortest_s <= contact.shortest_s < contact.longest_s <= limits.longest_s
        if contact.for_s is not None:
            assert contact.shortest_s <= contact.for_s <= contact.longest_s
        assert contact.gap_s <= (limits.longest_gap_s or 0.0)


@FEW
@given(feasible_jobs())
def test_the_target_is_taught_exactly_at_the_set_points(made: Job) -> None:
    placed = {
        step.where: step.position_mm
        for step in made.plan.steps
        if isinstance(step, PlaceTarget) and step.where not in ("cover", "clear")
    }
    assert placed == {str(point): at_mm for point, at_mm in made.setting.set_points_mm.items()}


@FEW
@given(feasible_jobs())
def test_the_same_job_gives_the_same_plan_and_is_left_as_it_was(made: Job) -> None:
    before = (made.order.model_copy(deep=True), made.rig.model_copy(deep=True))
    first, second = made.plan, made.plan
    assert first == second
    assert hash(first) == hash(second)
    assert (made.order, made.rig) == before


def test_a_plan_cannot_be_changed() -> None:
    plan = job("barrel-18-rail", FULL_RANGE).plan
    with pytest.raises(FrozenInstanceError):
        plan.checks = ()  # type: ignore[misc]


_PRINT_PLANS = """
from sequences.library import *
from wiring.profile import *
from rig.planning.compile import make_plan
for path in shipped_orders().values():
    order = load_order(path)
    sensor_type = load_type(find_type(order.sensor_type, order=path))
    print(make_plan(order, sensor_type, load_profile(find_profile("simulated"))))
"""


def test_plans_are_the_same_in_every_process() -> None:
    texts = {
        subprocess.run(
            [sys.executable, "-c", _PRINT_PLANS],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }
    assert len(texts) == 1
    assert len(texts.pop().splitlines()) == len(shipped_orders())


@pytest.mark.parametrize("name", sorted(shipped_orders()))
def test_every_shipped_order_can_be_planned_on_the_simulated_bench(name: str) -> None:
    path = find_order(name)
    order = load_order(path)
    made = Job(order, load_type(find_type(order.sensor_type, order=path)), STAGE)
    plan = made.plan
    assert not [warning for warning in plan.warnings if "is not checked" in warning]
    if order.need is None:
        assert plan.warnings == ()
    if order.setting.is_whole:
        assert (plan.mode, plan.output_function) == (order.setting.mode, order.setting.output_function)
        assert plan.tolerance_mm == (order.setting.tolerance_mm or 0.0)


def test_figures_come_from_type_and_order() -> None:
    checks = CheckPlan(readings=9, settle_factor=5.0)
    plan = job("barrel-30-length", FULL_RANGE, checks=checks).plan
    assert plan.sensor_type == "barrel-30-length"
    assert plan.settle_s == pytest.approx(5 * 0.2)
    assert plan.watch_s == pytest.approx(9 * 0.2)
    assert plan.refused == Answer("refused", LedKind.FLASHING, 8.0)
    assert (plan.retries, plan.led_shows_output) == (1, True)
    inspection = plan.inspection
    assert (inspection.current_min_a, inspection.current_max_a) == (0.01, 0.05)
    assert inspection.availability_s == 0.3


def test_the_slower_of_the_two_response_times_is_waited_for() -> None:
    made = job("barrel-18-rail", FULL_RANGE)
    for times in ({"response_on_s": 0.4}, {"response_off_s": 0.4}):
        timing = Timing.model_validate({**made.sensor_type.timing.model_dump(), **times})
        slow = made.sensor_type.model_copy(update={"timing": timing})
        assert Job(made.order, slow, made.rig).plan.settle_s == pytest.approx(3 * 0.4)


def test_a_type_that_says_no_in_no_way_and_must_not_be_asked_twice() -> None:
    made = job("barrel-18-rail", FULL_RANGE)
    led = {name: sign for name, sign in made.sensor_type.led.items() if name != "refused"}
    silent = made.sensor_type.model_copy(
        update={"led": led, "retry_after_refusal": False, "led_shows_output": False}
    )
    plan = Job(made.order, silent, made.rig).plan
    assert (plan.refused, plan.retries, plan.led_shows_output) == (None, 0, False)


def test_steps_of_every_kind_are_planned_and_said_in_words() -> None:
    made = job("barrel-18-rail", at_mm=400, tolerance_mm=8)
    sequence = made.sensor_type.sequence_for(SINGLE_POINT, OutputFunction.NO)
    assert sequence is not None
    more = (
        RestStep(do="rest", for_s=1.5),
        PowerCycleStep(do="power-cycle", off_s=2.0),
        Expect(do="expect", output=OutputState.ON, within_s=1.0),
        Expect(do="expect", output=OutputState.OFF, within_s=1.0),
        Contact(do="contact", rail=Rail.MINUS, for_s=1.2, shortest_s=1.0, longest_s=2.0, times=3, gap_s=0.4),
        Expect(do="expect", led="accepted", within_s=3.0),
    )
    longer = made.sensor_type.model_copy(
        update={"sequence": (sequence.model_copy(update={"steps": (*sequence.steps, *more)}),)}
    )
    plan = Job(made.order, longer, made.rig).plan
    assert plan.steps[4:] == (
        Rest(1.5),
        PowerCycle(2.0),
        AwaitOutput(on=True, within_s=1.0),
        AwaitOutput(on=False, within_s=1.0),
        MakeContact(Rail.MINUS, None, 1.2, 1.0, 2.0, 3, 0.4),
        AwaitAnswer(Answer("accepted", LedKind.FLASHING, 2.0), 3.0),
    )
    assert [step.text for step in plan.steps] == [
        "clear the beam",
        "teach wire to L+ until flashing 2 Hz",
        "target at 400.0 mm",
        "teach wire to L- until flashing 2 Hz",
        "wait 1.5 s",
        "supply off for 2 s, then on",
        "output must be on",
        "output must be off",
        "teach wire to L- 3 times for 1.2 s",
        "LED must show flashing 2 Hz",
    ]


def test_a_covered_face_is_said_as_such() -> None:
    assert job("block-rail", FULL_RANGE).plan.steps[0].text == "cover the face"


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        (Answer("a", LedKind.FLASHING, 2.5), "flashing 2.5 Hz"),
        (Answer("a", LedKind.BLINKS, None, 1), "1 blink"),
        (Answer("a", LedKind.BLINKS, None, 3), "3 blinks"),
        (Answer("a", LedKind.STEADY), "steady"),
        (Answer("a", LedKind.DARK), "dark"),
    ],
)
def test_answers_in_words(answer: Answer, words: str) -> None:
    assert answer.words == words


@FEW
@given(feasible_jobs())
def test_the_expected_time_lies_between_the_shortest_and_the_longest_way_through(made: Job) -> None:
    plan, target = made.plan, made.rig.target
    waits_s = [step.within_s for step in plan.steps if isinstance(step, AwaitAnswer)]
    shortest_s = sum(one.times * one.shortest_s for _, one in contacts(plan))
    longest_s = sum(one.times * (one.longest_s + one.gap_s) for _, one in contacts(plan)) + sum(waits_s)
    scanned = sum(len(scan_mm) for scan_mm in plan.scans_mm)
    moves = len(plan.steps) + len(plan.checks) + scanned + 2 * len(plan.scans_mm)
    readings_s = (len(plan.checks) + scanned) * (plan.settle_s + plan.watch_s)
    assert target.speed_mm_s is not None
    slowest_move_s = max(target.farthest_mm / target.speed_mm_s + target.settle_s, target.swing_s)
    assert shortest_s + readings_s < plan.expected_s
    assert plan.expected_s < longest_s + readings_s + moves * slowest_move_s + 1.0


def test_expected_time_worked_out_by_hand() -> None:
    available_s, contacts_s, readings_s = 0.3, 2 * (1.0 + 0.4 * 4.0), 6 * 5 * 0.05 + 6 * 3 * 0.05
    ways_mm = [400, 400 - 226.3, 406.7 - 226.3, 406.7 - 393.3, 418.9 - 393.3, 418.9 - 62.0]
    moves_s = 2 * 0.4 + sum(way_mm / 1000 + 0.05 for way_mm in ways_mm)
    without = CheckPlan(scan_readings=0)
    plan = job("barrel-18-rail", checks=without, at_mm=400, tolerance_mm=8).plan
    assert plan.expected_s == pytest.approx(available_s + contacts_s + readings_s + moves_s)


def test_a_scan_takes_its_moves_and_its_readings_longer() -> None:
    # From a clear beam to the first position, 395.2 mm, then out to 408.8 mm with a reading at each of twelve.
    without, with_scan = (
        job("barrel-18-rail", checks=CheckPlan(scan_readings=readings), at_mm=400, tolerance_mm=8).plan
        for readings in (0, 12)
    )
    assert with_scan.scans_mm[0][0] == 395.2
    assert with_scan.scans_mm[0][-1] == 408.8
    scan_s = 0.4 + 13 * 0.05 + 395.2 / 1000 + 13.6 / 1000 + 12 * 8 * 0.05
    assert with_scan.expected_s - without.expected_s == pytest.approx(scan_s)


def test_one_contact_more_is_expected_to_take_a_contact_and_a_gap_longer() -> None:
    five, six = (taught("barrel-12-count", FULL_RANGE, function).plan.expected_s for function in ("NO", "NC"))
    assert six - five == pytest.approx(0.3 + 0.4)


def test_a_stage_is_expected_to_be_quicker_than_a_person_and_a_slow_stage_slower() -> None:
    def expected_s(rig: RigProfile) -> float:
        return job("barrel-18-rail", rig=rig, at_mm=400, tolerance_mm=12).plan.expected_s

    assert expected_s(STAGE) < expected_s(rig_with(STAGE, speed_mm_s=100.0)) < expected_s(BY_HAND)
