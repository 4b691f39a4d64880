"""The desk hands over no unit but the one that is wanted, from no hands but the right ones."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from itertools import pairwise
from typing import Any

from rig.events import EdgeMeasured, Event, Stamped, TrialBegun, UnitJudged, Verdict
from rig.gauge.course import Course
from rig.gauge.design import Design, Factor, drawn_trials
from rig.gauge.desk import Asks, InHand, StudyDesk, Wanted

UNITS, PEOPLE = ("Q-1", "Q-2", "Q-3"), ("Maren", "Tobias")


def design(factor: Factor = Factor.PERSON) -> Design:
    trials = drawn_trials(UNITS, PEOPLE, 2, 4)
    return Design("G-1", "QOC-1", "b", "r", "A", "outer", 1.0, 2.0, factor, UNITS, PEOPLE, 2, 4, trials)


class Waits:
    """Waits as those of the bench, that nothing trips."""

    async def until(self, future: asyncio.Future[Any]) -> Any:
        return await future


def measured(course: Course, number: int, verdict: Verdict = Verdict.GOOD, value_mm: float = 400.0) -> None:
    """What the bench would record of one trial."""
    trial = course.design.trials[number - 1]
    events: list[Event] = [TrialBegun("G-1", number, trial.level, trial.repeat, "outer")]
    if verdict is Verdict.GOOD:
        nothing = (None, None, None, None, None)
        events.append(EdgeMeasured("outer", "step by step", value_mm, 0.2, 401, 0.2, 1, 0.2, *nothing, 9, 9))
    events.append(UnitJudged(verdict, "measured", "words"))
    for event in events:
        course.take(Stamped(1, 0, "2026-01-05T07:00:00.000Z", "G-1", trial.unit, event))


def at_once(work: Coroutine[Any, Any, Any]) -> Any:
    return asyncio.run(work)


def test_the_units_come_in_the_order_of_the_trials_and_each_signs_in() -> None:
    course, in_hand = Course(design()), InHand()
    desk = StudyDesk(course, in_hand)

    async def all_of_them() -> list[tuple[str, str]]:
        seen = []
        while (unit := await desk.next_serial(Waits())) is not None:  # type: ignore[arg-type]
            assert desk.signed_in is not None
            assert in_hand.trial is not None
            seen.append((unit, desk.signed_in.person))
            measured(course, in_hand.trial.number)
        return seen

    assert at_once(all_of_them()) == [(trial.unit, trial.level) for trial in course.design.trials]
    assert not course.left


def test_another_unit_or_person_is_refused_and_the_right_one_taken() -> None:
    course = Course(design())
    asked: list[Wanted] = []
    desk = StudyDesk(course, InHand(), asked.append)
    first = course.design.trials[0]
    other = next(unit for unit in UNITS if unit != first.unit)

    async def scanned() -> str | None:
        waiting = asyncio.ensure_future(desk.next_serial(Waits()))  # type: ignore[arg-type]
        await asyncio.sleep(0)
        assert asked[-1].asks is Asks.LEVEL
        assert "is not the person" in desk.give("Ilse")
        assert desk.give(f" {first.level.lower()} ") == ""
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        assert asked[-1].asks is Asks.UNIT
        assert "is not the unit that is wanted now" in desk.give(other)
        assert "is not the unit" in desk.give("")
        assert not waiting.done()
        assert desk.give(first.unit) == ""
        return await waiting

    assert at_once(scanned()) == first.unit
    assert desk.wanted is None


def test_the_person_is_asked_for_only_when_another_one_goes_on() -> None:
    course = Course(design())
    asked: list[Wanted] = []
    desk = StudyDesk(course, InHand(), asked.append)

    async def all_of_them() -> None:
        for trial in course.design.trials:
            waiting = asyncio.ensure_future(desk.next_serial(Waits()))  # type: ignore[arg-type]
            await asyncio.sleep(0)
            while not waiting.done():
                assert desk.wanted is not None
                assert desk.give(desk.wanted.name) == ""
                await asyncio.sleep(0)
                await asyncio.sleep(0)
            measured(course, trial.number)

    at_once(all_of_them())
    levels = [trial.level for trial in course.design.trials]
    changes = 1 + sum(one != other for one, other in pairwise(levels))
    assert sum(one.asks is Asks.LEVEL for one in asked) == changes
    assert sum(one.asks is Asks.UNIT for one in asked) == len(levels)


def test_settings_of_the_rig_are_asked_for_in_words_of_their_own() -> None:
    wanted = Wanted(Asks.LEVEL, design(Factor.SETTING).trials[0], 12, Factor.SETTING)
    assert "set the rig to" in wanted.words
    assert "is not the setting" in wanted.refusal("bare")


def test_a_unit_that_cannot_be_measured_is_tried_once_more_and_then_ends_the_sitting() -> None:
    course = Course(design())
    desk = StudyDesk(course, InHand())

    async def twice() -> list[str | None]:
        seen = []
        for _ in range(3):
            seen.append(await desk.next_serial(Waits()))  # type: ignore[arg-type]
            measured(course, 1, Verdict.UNDECIDED)
        return seen

    first = course.design.trials[0].unit
    assert at_once(twice()) == [first, first, None]
    assert "trial 1" in course.why
    assert len(course.left) == len(course.design.trials)
    # Another sitting tries again.
    assert at_once(StudyDesk(course, InHand()).next_serial(Waits())) == first  # type: ignore[arg-type]


def test_a_trial_without_its_verdict_does_not_count() -> None:
    course = Course(design())
    trial = course.design.trials[0]
    for event in (
        TrialBegun("G-1", 1, trial.level, 1, "outer"),
        EdgeMeasured("outer", "s", 400, 0.2, 401, 0.2, 1, 0.2, None, None, None, None, None, 9, 9),
    ):
        course.take(Stamped(1, 0, "2026-01-05T07:00:00.000Z", "G-1", trial.unit, event))
    assert trial in course.left
    # The program was killed; the next run begins the trial anew.
    measured(course, 1, value_mm=402.0)
    assert course.readings[trial].value_mm == 402.0
