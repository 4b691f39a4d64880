"""What goes wrong while a person slides the target is recognised and named; a few slips do no harm, many end it."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from itertools import cycle
from typing import Any

import pytest

from hal.errors import NoAnswer, Tripped
from hal.interlock.rules import Condition
from hal.operator import Request, RequestKind
from hal.simulated.clock import NS
from hal.simulated.memory import Memory
from rig.edges.edge import EdgeResult
from rig.events import EdgeSlid, Stamped
from rig.measuring.trouble import NotMeasured, Trouble
from tests.rig.measuring.by_hand import GAUGE, SCALE, SLOTS, ByHand, by_hand, measure, tasks_of
from tests.rig.measuring.units import point_of, run
from wiring.profile import RigProfile
from wiring.terms import DetectionMode

Meddle = Callable[[ByHand], None]


def outcome(
    meddle: Meddle = lambda _: None, rig: RigProfile = GAUGE, **how: Any
) -> tuple[EdgeResult | NotMeasured, list[str], float]:
    """What a measurement comes to, every text on the screen, and how long it took."""

    async def one() -> tuple[EdgeResult | NotMeasured, list[str], float]:
        async with by_hand(point_of(400.0), rig=rig, **how) as there:
            asked: list[str] = []
            there.bench.operator.on_request.append(lambda request: asked.append(request.text))
            meddle(there)
            begun_s = asyncio.get_running_loop().time()
            try:
                found: EdgeResult | NotMeasured = await measure(there, tasks_of(there, 10.0)[0])
            except NotMeasured as failed:
                found = failed
            return found, asked, asyncio.get_running_loop().time() - begun_s

    return run(one)


def trouble_of(meddle: Meddle = lambda _: None, rig: RigProfile = GAUGE, **how: Any) -> NotMeasured:
    found, _, took_s = outcome(meddle, rig, **how)
    assert isinstance(found, NotMeasured)
    assert took_s < 1500  # bounded, even with a slow hand
    return found


def good(found: EdgeResult | NotMeasured) -> bool:
    return isinstance(found, EdgeResult) and abs(found.figures.operate_mm.value - 400.22) < 1.5


def at_slide(number: int, act: Callable[[ByHand], object], after_s: float = 0.0) -> Meddle:
    """Do something when the person is asked for a slide for the so-manieth time, or somewhat later."""

    def meddle(there: ByHand) -> None:
        asked: list[Request] = []

        def look(request: Request) -> None:
            if request.kind in (RequestKind.SLIDE_IN, RequestKind.SLIDE_OUT):
                asked.append(request)
                if len(asked) == number:
                    there.world.timeline.after(round(after_s * NS), lambda: act(there) and None)

        there.bench.operator.on_request.append(look)

    return meddle


def silence(there: ByHand) -> None:
    assert there.world.gauge is not None
    there.world.gauge.silent = True


def stick(there: ByHand) -> None:
    assert there.world.gauge is not None
    there.world.gauge.stick(True)


def set_to(near_mm: float) -> Callable[[ByHand], None]:
    return lambda there: there.unit.store(Memory(DetectionMode.SINGLE_POINT, near_mm=near_mm))


# -- the hand -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_a_hand_that_is_too_fast_is_told_so_again_and_again_but_not_for_ever(rig: RigProfile) -> None:
    found, asked, _ = outcome(rig=rig, bench={"person": {"slide_mm_s": 40.0}})
    assert isinstance(found, NotMeasured)
    assert found.trouble is Trouble.TOO_FAST
    assert "7 slides do not count, the last because" in str(found)
    assert "mm a second were too fast" in str(found)
    told = [text for text in asked if text.startswith("Once more: ") and "too fast" in text]
    assert len(told) == 6
    assert "more slowly" in found.check


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_one_slide_that_is_too_fast_is_made_again(rig: RigProfile) -> None:
    def hurry(there: ByHand) -> None:
        person = there.person
        usual = person._truth
        person._truth = usual.model_copy(update={"slide_mm_s": 30.0})
        there.world.timeline.after(3 * NS, lambda: setattr(person, "_truth", usual))

    found, asked, _ = outcome(at_slide(5, hurry), rig)
    assert good(found)
    assert sum("too fast" in text for text in asked) == 1


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_a_hand_that_hesitates_and_one_that_overshoots_do_no_harm(rig: RigProfile) -> None:
    for person in ({"hesitation": 0.4, "unevenness": 0.5}, {"stop_s": 0.6}):
        found, _, _ = outcome(rig=rig, bench={"person": person})
        assert good(found)


@pytest.mark.parametrize("rig", [GAUGE, SCALE, SLOTS])
def test_a_person_who_goes_away_ends_it(rig: RigProfile) -> None:
    async def one() -> float:
        bench = {"fault": [{"kind": "person-silent", "after_s": 8.0}]}
        async with by_hand(point_of(400.0), rig=rig, bench=bench) as there:
            with pytest.raises(NoAnswer):
                await measure(there, tasks_of(there, 10.0)[0])
            return asyncio.get_running_loop().time()

    assert run(one) < 700


def test_a_scale_that_is_misread_once_is_read_again() -> None:
    def misread(there: ByHand) -> None:
        there.world.misread_mm = 10.0
        there.world.timeline.after(12 * NS, lambda: setattr(there.world, "misread_mm", 0.0))

    found, _, _ = outcome(at_slide(7, misread), SCALE)
    assert good(found)


def test_numbers_that_never_agree_are_no_edge() -> None:
    def meddle(there: ByHand) -> None:
        slips_mm = cycle(
            (0.0, 0.0, 9.0, 9.0, -9.0, -9.0)
        )  # each in turn read on the way in and on the way out

        def look(request: Request) -> None:
            if request.kind is RequestKind.READ_SCALE:
                there.world.misread_mm = next(slips_mm)

        there.bench.operator.on_request.append(look)

    failed = trouble_of(meddle, SCALE)
    assert failed.trouble is Trouble.SLIDES_DISAGREE
    assert "does not agree with the others" in str(failed)


def test_a_number_from_another_place_is_asked_for_again() -> None:
    def misread(there: ByHand) -> None:
        there.world.misread_mm = 300.0
        there.world.timeline.after(12 * NS, lambda: setattr(there.world, "misread_mm", 0.0))

    found, asked, _ = outcome(at_slide(4, misread), SCALE)
    assert good(found)
    assert any("cannot be: Stop." in text for text in asked)


def test_a_target_that_is_left_in_its_slot_is_not_asked_for_for_ever() -> None:
    async def one() -> str:
        async with by_hand(point_of(400.0), rig=SLOTS) as there:
            await there.work.place("before", 300.0)
            there.world.target_left_in = True
            with pytest.raises(NoAnswer) as failed:
                await measure(there, tasks_of(there, 10.0)[0])
            return str(failed.value)

    assert run(one) == "asked 10 times, and still: The target is in slot 3."


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_a_target_that_is_left_in_the_beam(rig: RigProfile) -> None:
    async def one() -> NotMeasured:
        async with by_hand(point_of(400.0), rig=rig) as there:
            await there.work.place("before", 300.0)
            there.world.target_left_in = True
            with pytest.raises(NotMeasured) as failed:
                await measure(there, tasks_of(there, 10.0)[0])
            return failed.value

    failed = run(one)
    assert failed.trouble is Trouble.TARGET_LEFT
    assert "leaves the beam" in failed.check


# -- the gauge ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [1, 2, 6])
def test_a_gauge_that_falls_silent_is_named(number: int) -> None:
    failed = trouble_of(at_slide(number, silence, after_s=1.0))
    assert failed.trouble is Trouble.GAUGE_SILENT
    assert "gauge at sim:gauge: no answer to" in str(failed)
    assert "cable" in failed.check


def test_a_gauge_that_is_silent_for_a_moment_costs_a_slide() -> None:
    def hush(there: ByHand) -> None:
        silence(there)
        assert there.world.gauge is not None
        there.world.timeline.after(2 * NS, lambda: setattr(there.world.gauge, "silent", False))

    found, asked, _ = outcome(at_slide(5, hush))
    assert good(found)
    assert sum(text.startswith("Once more") for text in asked) == 1


@pytest.mark.parametrize("number", [1, 2, 3, 4, 7])
@pytest.mark.parametrize("after_s", [0.0, 2.0, 4.0])
def test_a_gauge_that_sticks_is_named_wherever_it_does(number: int, after_s: float) -> None:
    failed = trouble_of(at_slide(number, stick, after_s))
    assert failed.trouble is Trouble.GAUGE_STUCK
    assert "the gauge" in str(failed)


@pytest.mark.parametrize("error_mm", [-30.0, 30.0])
def test_a_gauge_with_another_zero_is_no_gauge_for_this_scale(error_mm: float) -> None:
    failed = trouble_of(bench={"gauge": {"error_mm": error_mm}})
    assert failed.trouble is Trouble.GAUGE_STUCK
    assert "for a target at" in str(failed)


def test_a_gauge_that_is_unplugged_trips_the_bench() -> None:
    async def one() -> Condition:
        async with by_hand(point_of(400.0)) as there:
            at_slide(3, lambda there: there.wires["sim:gauge"].unplug(), 1.0)(there)
            with pytest.raises(Tripped, match="unplugged"):
                await measure(there, tasks_of(there, 10.0)[0])
            return there.bench.interlock.condition

    assert run(one) is Condition.TRIPPED


# -- the unit -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_an_output_that_chatters(rig: RigProfile) -> None:
    failures = [
        outcome(rig=rig, seed=seed, faults=[{"kind": "noisy-echo", "factor": 12.0}])[0] for seed in range(4)
    ]
    named = [one.trouble for one in failures if isinstance(one, NotMeasured)]
    assert len(named) == 4
    assert named.count(Trouble.OUTPUT_CHATTERS) >= 2
    assert set(named) <= {Trouble.OUTPUT_CHATTERS, Trouble.SLIDES_DISAGREE, Trouble.CHANGES_ITS_MIND}


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
@pytest.mark.parametrize("near_mm", [370.0, 430.0])
def test_a_unit_that_changes_its_mind(rig: RigProfile, near_mm: float) -> None:
    failed = trouble_of(at_slide(6, set_to(near_mm)), rig)
    assert failed.trouble in (Trouble.EDGE_MISSED, Trouble.CHANGES_ITS_MIND, Trouble.SLIDES_DISAGREE)


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_a_unit_that_has_switched_before_anybody_slides_is_named_so(rig: RigProfile) -> None:
    def meddle(there: ByHand) -> None:
        slid: list[Stamped] = []

        def watch(stamped: Stamped) -> None:
            if isinstance(stamped.event, EdgeSlid):
                slid.append(stamped)
                if len(slid) == 5:  # one on the way in
                    set_to(340.0)(there)

        there.work.chronicle.watch(watch)

    failed = trouble_of(meddle, rig)
    assert failed.trouble is Trouble.CHANGES_ITS_MIND
    assert "does not detect the target" in str(failed)
    assert "before it was slid" in str(failed)


@pytest.mark.parametrize("rig", [GAUGE, SCALE, SLOTS])
@pytest.mark.parametrize("how", [{"faults": [{"kind": "dead"}]}, {"taught": {"near_mm": 150.0}}])
def test_a_unit_that_does_not_detect_inside_its_zone(rig: RigProfile, how: dict[str, Any]) -> None:
    assert trouble_of(rig=rig, **how).trouble is Trouble.NOT_DETECTED


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
def test_a_unit_that_lets_go_of_nothing_has_no_edge_to_slide_across(rig: RigProfile) -> None:
    short = rig.model_copy(update={"target": rig.target.model_copy(update={"farthest_mm": 500.0})})
    failed = trouble_of(rig=short, taught={"near_mm": 700.0})
    assert failed.trouble is Trouble.BEYOND_REACH
    assert "500 mm" in str(failed)


def test_slots_that_do_not_reach_the_edge_are_named() -> None:
    assert trouble_of(rig=SLOTS, taught={"near_mm": 700.0}).trouble is Trouble.BEYOND_REACH


def test_a_unit_that_changes_its_mind_between_two_slots() -> None:
    def meddle(there: ByHand) -> None:
        seen: list[Stamped] = []

        def watch(stamped: Stamped) -> None:
            if stamped.event.kind == "target-moved":
                seen.append(stamped)
                if len(seen) == 9:
                    set_to((there.made.setting.at_mm and 425.0) or 0.0)(there)

        there.work.chronicle.watch(watch)

    failed = trouble_of(meddle, SLOTS)
    assert failed.trouble in (Trouble.CHANGES_ITS_MIND, Trouble.BEYOND_REACH)


# -- the bench ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rig", [GAUGE, SCALE])
@pytest.mark.parametrize("after_s", [0.5, 4.0])
def test_a_stop_ends_a_slide_at_once(rig: RigProfile, after_s: float) -> None:
    async def one() -> float:
        async with by_hand(point_of(400.0), rig=rig) as there:
            loop, pressed = asyncio.get_running_loop(), []

            def press(there: ByHand) -> None:
                there.world.coils.press_stop(True)
                pressed.append(loop.time())

            at_slide(3, press, after_s)(there)
            with pytest.raises(Tripped):
                await measure(there, tasks_of(there, 10.0)[0])
            assert there.bench.interlock.condition is Condition.TRIPPED
            return loop.time() - pressed[0]

    assert run(one) < 0.2


def test_every_slide_is_on_record_counted_or_not() -> None:
    async def one() -> tuple[list[EdgeSlid], int]:
        async with by_hand(point_of(400.0)) as there:
            at_slide(5, silence, 1.0)(there)
            asked: list[Request] = []
            there.bench.operator.on_request.append(asked.append)
            with pytest.raises(NotMeasured):
                await measure(there, tasks_of(there, 10.0)[0])
            slid = [one.event for one in there.events if isinstance(one.event, EdgeSlid)]
            return slid, sum(one.kind in (RequestKind.SLIDE_IN, RequestKind.SLIDE_OUT) for one in asked)

    slid, asked = run(one)
    assert len(slid) == asked
    assert sum(bool(one.fault) for one in slid) == 7
