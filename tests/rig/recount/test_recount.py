"""The recount: every verdict comes out of the record again, and nothing in it that matters can be changed unseen."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import fields, replace
from functools import lru_cache
from typing import Any

import pytest

from hal.nest import OutputLevel
from hal.simulated.benchfile import UnitRow
from hal.simulated.faults import BenchFault, UnitFault
from rig.events import (
    Asked,
    ContactEnded,
    LedSeen,
    OutputRead,
    Purpose,
    SupplyMeasured,
    UnitJudged,
    UnitStarted,
    Verdict,
)
from rig.recount.attempt import Attempt
from rig.recount.recount import recount
from rig.sequencer.findings import Reason
from tests.rig.planned import BY_HAND
from tests.rig.recount.replays import attempts_in, changed, without
from tests.rig.sequencer.floor import SETTINGS, on, work_through
from tests.rig.sequencer.lottery import draw_bench, draw_faults, draw_job
from wiring.terms import Rail

UNITS_A_SHIFT = 5


@lru_cache
def attempt_of(setting: str, *faults: UnitFault, bench: tuple[BenchFault, ...] = ()) -> Attempt:
    (attempt,) = attempts_in(work_through(SETTINGS[setting], faults, bench).events)
    return attempt


def drawn_shift(seed: int) -> tuple[Attempt, ...]:
    draw = random.Random(f"recount/{seed}")
    made = draw_job(draw)
    rows = tuple(UnitRow(faults=draw_faults(draw, made)) for _ in range(UNITS_A_SHIFT))
    shift = work_through(made, furnished=draw_bench(draw, rows), units=UNITS_A_SHIFT)
    return attempts_in(shift.events)


class TestAgreeing:
    @pytest.mark.parametrize("seed", range(12))
    def test_random_units_come_to_the_same_verdict_from_their_record_alone(self, seed: int) -> None:
        found = [recount(attempt) for attempt in drawn_shift(seed)]
        assert len(found) == UNITS_A_SHIFT
        for one in found:
            assert one.agrees, one
            assert one.worked_out is not None
            assert one.recorded is not None
            assert one.worked_out.verdict is one.recorded.verdict

    @pytest.mark.parametrize("setting", sorted(SETTINGS))
    def test_every_way_of_teaching(self, setting: str) -> None:
        found = recount(attempt_of(setting))
        assert found.agrees
        assert found.worked_out is not None
        assert found.worked_out.verdict is Verdict.GOOD

    def test_a_trip_is_told_from_the_record_too(self) -> None:
        found = recount(attempt_of("18 point", bench=(BenchFault(kind="teach-contact-welded"),)))
        assert found.agrees
        assert found.worked_out is not None
        assert found.worked_out.reason is Reason.BENCH_TRIPPED

    def test_a_person_who_is_silent_is_told_from_the_record_too(self) -> None:
        by_hand = on(SETTINGS["18 point"], BY_HAND)
        silent = BenchFault(kind="person-silent", after_contacts=1)
        (attempt,) = attempts_in(work_through(by_hand, bench=(silent,)).events)
        found = recount(attempt)
        assert found.agrees
        assert found.worked_out is not None
        assert found.worked_out.reason is Reason.NO_ANSWER


def opposites(attempt: Attempt) -> Iterator[tuple[str, Attempt]]:
    """The record with one thing in it turned into its opposite, or made impossible; for everything in it."""
    for index, one in enumerate(attempt.events):
        # What was asked of the person, and what came after the verdict, decides nothing.
        if isinstance(one.event, UnitJudged):
            return
        if index == 0 or isinstance(one.event, Asked):
            continue
        for field in fields(one.event):
            now = getattr(one.event, field.name)
            other = _opposite(one.event, field.name, now)
            if other is not now:
                where = getattr(one.event, "where", "")
                words = f"{one.event.kind} {where}: {field.name} {now} -> {other}"
                yield words, changed(attempt, index, **{field.name: other})


def _opposite(event: object, name: str, now: object) -> Any:
    match now:
        case bool():
            return not now
        case Rail():
            return now.other
        case str() if isinstance(event, OutputRead) and name == "level":
            return OutputLevel.AT_MINUS if now == OutputLevel.AT_PLUS else OutputLevel.AT_PLUS
        case str():
            return f"not {now}"
        case int() | float():
            return 1000.0 + 10 * now
        case _:
            return now


# At rest a unit may be set to anything, so its output may as well be on; flicker counts only where no answer came.
DECIDES_NOTHING = ("output-read at rest: level", "led-seen : noisy")


@pytest.mark.parametrize(
    ("setting", "fault", "not_looked_at"),
    [
        ("18 point", None, ()),
        ("12 window", None, ()),
        ("30 full", None, ()),
        ("18 window", UnitFault(kind="stores-wrongly", offset_mm=25.0), ()),
        ("30 window", UnitFault(kind="wide-hysteresis", percent=15.0), ()),
        # Without an answer nobody asks how long the contact was, nor without current what the output does.
        ("block window", UnitFault(kind="led-dark"), ("contact-ended : length_s",)),
        ("18 point", UnitFault(kind="refuses-teach"), ("contact-ended : length_s",)),
        (
            "12 point",
            UnitFault(kind="dead"),
            ("output-read without supply: ", "supply-measured : voltage_v"),
        ),
    ],
)
def test_nothing_that_was_read_can_be_turned_into_its_opposite_unseen(
    setting: str, fault: UnitFault | None, not_looked_at: tuple[str, ...]
) -> None:
    attempt = attempt_of(setting, *([] if fault is None else [fault]))
    assert recount(attempt).agrees
    unseen = [words for words, other in opposites(attempt) if recount(other).agrees]
    assert [words for words in unseen if not words.startswith(DECIDES_NOTHING + not_looked_at)] == []


class TestAltered:
    @pytest.mark.parametrize("verdict", Verdict)
    def test_a_verdict_that_was_written_over(self, verdict: Verdict) -> None:
        attempt = attempt_of("18 point", UnitFault(kind="stores-wrongly", offset_mm=25.0))
        index = self.index_of(attempt, UnitJudged)
        found = recount(changed(attempt, index, verdict=verdict))
        assert found.agrees is (verdict is Verdict.BAD)
        assert found.worked_out is not None
        assert found.worked_out.verdict is Verdict.BAD

    def test_a_bad_reading_made_right_still_leaves_the_verdict_without_ground(self) -> None:
        attempt = attempt_of("18 point", UnitFault(kind="stores-wrongly", offset_mm=25.0))
        good = Attempt(
            attempt.run,
            attempt.started,
            attempt.inputs,
            tuple(
                replace(one, event=replace(one.event, read_on=one.event.expected_on))
                if one.event.kind == "check-done"
                else one
                for one in attempt.events
            ),
        )
        found = recount(good)
        assert not found.agrees
        assert any("check-done: read_on" in words for words in found.departures)

    @pytest.mark.parametrize("setting", ["18 point", "12 point"])
    def test_an_entry_taken_out_is_missed(self, setting: str) -> None:
        attempt = attempt_of(setting)
        for index in range(1, self.index_of(attempt, UnitJudged)):
            found = recount(without(attempt, index))
            assert not found.agrees, attempt.events[index]
            assert "missing" in found.departures[0]

    def test_a_reading_added_behind_what_decides(self) -> None:
        attempt = attempt_of("18 point", UnitFault(kind="dead"))
        end = self.index_of(attempt, UnitJudged)
        more = (*attempt.events[:end], attempt.events[end - 1], *attempt.events[end:])
        found = recount(replace(attempt, events=more))
        assert not found.agrees
        assert "behind what decides" in found.departures[-1]

    def test_another_tolerance_in_the_order(self) -> None:
        attempt = attempt_of("18 point")
        assert attempt.inputs is not None
        order = attempt.inputs.order
        wider = order | {"setting": order["setting"] | {"tolerance_mm": 16.0}}
        found = recount(replace(attempt, inputs=replace(attempt.inputs, order=wider)))
        assert not found.agrees
        assert any("position_mm" in words for words in found.departures)

    def test_a_contact_of_another_length(self) -> None:
        attempt = attempt_of("30 window")
        index = self.index_of(attempt, ContactEnded)
        found = recount(changed(attempt, index, length_s=9.5))
        assert not found.agrees
        assert found.worked_out is None or found.worked_out.reason is Reason.CONTACT_LENGTH

    def test_a_current_within_its_limits_decides_nothing(self) -> None:
        attempt = attempt_of("18 point")
        index = self.index_of(attempt, SupplyMeasured)
        assert recount(changed(attempt, index, current_a=0.031)).agrees
        assert not recount(changed(attempt, index, current_a=0.4)).agrees

    @staticmethod
    def index_of(attempt: Attempt, kind: type) -> int:
        return next(index for index, one in enumerate(attempt.events) if isinstance(one.event, kind))


class TestIncomplete:
    def test_a_record_that_ends_before_a_verdict_holds_none(self) -> None:
        attempt = attempt_of("18 point")
        for end in range(1, len(attempt.evidence)):
            found = recount(replace(attempt, events=attempt.events[:end]))
            assert found.agrees
            assert (found.recorded, found.worked_out) == (None, None)

    def test_a_verdict_that_evidence_does_not_reach(self) -> None:
        attempt = attempt_of("18 point")
        judged = next(one for one in attempt.events if isinstance(one.event, UnitJudged))
        short = replace(judged, number=attempt.events[19].number + 1)
        found = recount(replace(attempt, events=(*attempt.events[:20], short)))
        assert not found.agrees
        assert found.departures == ("the verdict comes before all was read that it has to rest on",)

    @pytest.mark.parametrize("lost", ["started", "inputs"])
    def test_without_what_the_plan_was_made_from_nothing_agrees(self, lost: str) -> None:
        found = recount(replace(attempt_of("18 point"), **{lost: None}))
        assert not found.agrees
        assert "does not hold the order" in found.departures[0]

    @pytest.mark.parametrize(
        ("change", "said"),
        [
            ({"order": {"number": "QOC-1"}}, "the recorded order cannot be used"),
            ({"rig": {}}, "the recorded rig profile cannot be used"),
            ({"sensor_type": {}}, "the recorded sensor type cannot be used"),
        ],
    )
    def test_files_that_cannot_be_used(self, change: dict[str, Any], said: str) -> None:
        attempt = attempt_of("18 point")
        assert attempt.inputs is not None
        found = recount(replace(attempt, inputs=replace(attempt.inputs, **change)))
        assert not found.agrees
        assert said in found.departures[0]

    def test_an_order_that_is_refused_now(self) -> None:
        attempt = attempt_of("18 point")
        assert attempt.inputs is not None
        order = attempt.inputs.order
        fine = order | {"setting": order["setting"] | {"tolerance_mm": 0.1}}
        found = recount(replace(attempt, inputs=replace(attempt.inputs, order=fine)))
        assert not found.agrees
        assert "this program refuses the recorded order" in found.departures[0]

    def test_files_of_another_order(self) -> None:
        attempt = attempt_of("18 point")
        assert attempt.inputs is not None
        order = attempt.inputs.order | {"number": "QOC-0901"}
        found = recount(replace(attempt, inputs=replace(attempt.inputs, order=order)))
        assert not found.agrees
        assert "not those that it was begun with" in found.departures[0]

    def test_a_nest_that_the_rig_does_not_have(self) -> None:
        attempt = attempt_of("18 point")
        found = recount(changed(attempt, 0, nest="Z"))
        assert not found.agrees
        assert isinstance(attempt.begin.event, UnitStarted)
        assert "no nest Z" in found.departures[0]

    def test_a_led_that_did_what_no_led_does(self) -> None:
        attempt = attempt_of("18 point")
        index = TestAltered.index_of(attempt, LedSeen)
        found = recount(changed(attempt, index, led="purple"))
        assert not found.agrees
        assert found.departures == ("the record has a LED that is purple, which is no pattern",)

    def test_a_record_that_begins_elsewhere(self) -> None:
        attempt = attempt_of("18 point")
        found = recount(replace(attempt, events=attempt.events[1:]))
        assert not found.agrees
        assert found.departures == ("the record does not begin with the unit in its nest",)

    def test_a_survey_in_which_somebody_taught(self) -> None:
        attempt = attempt_of("18 point")
        assert attempt.started is not None
        found = recount(replace(attempt, started=replace(attempt.started, purpose=Purpose.SURVEY)))
        assert not found.agrees
        assert "where this program has" in found.departures[0]
