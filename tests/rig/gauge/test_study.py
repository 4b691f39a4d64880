"""A study on the simulated rig: recorded, broken off and gone on with, worked out again from its record alone."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from rig.events import StudyConcluded, TrialBegun, UnitJudged
from rig.gauge.course import Course
from rig.gauge.figures import figures_of
from rig.gauge.history import note_on_study, open_study, study_named
from rig.gauge.taking_up import furnished
from rig.gauge.told import conclusion_event, departures
from rig.gauge.verdict import conclude
from rig.jobs import inputs_of
from rig.journal import JournalError, read_journal
from rig.records import open_records
from rig.recount.recount import recount
from tests.rig.gauge.studied import Rig
from tests.rig.recorded import change

RIG = Rig()
OFFSETS_MM = (0.0, 4.0)
HANDS_MM = (0.0, -1.5, 0.5)


class Stopped(Exception):
    """The power is gone."""


def opened(tmp_path: Path) -> Path:
    journal = tmp_path / "journal.sqlite3"
    order, sensor_type, profile = RIG.files
    open_study(journal, RIG.design(units=2, repeats=2), inputs_of(order, sensor_type, profile))
    return journal


def course_of(journal: Path) -> Course:
    study = study_named(journal, None)
    assert study is not None
    return study.course


def bench(spread_mm: float = 0.1):  # type: ignore[no-untyped-def]
    return RIG.bench(OFFSETS_MM, HANDS_MM, spread_mm, 7)


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A study that was stopped in the middle, and gone on with."""
    journal = opened(tmp_path_factory.mktemp("study"))
    course = course_of(journal)
    counted = course.take

    def stops_after_five(stamped):  # type: ignore[no-untyped-def]
        counted(stamped)
        if isinstance(stamped.event, UnitJudged) and len(course.readings) == 5:
            raise Stopped

    course.take = stops_after_five  # type: ignore[method-assign]
    with pytest.raises(Stopped):
        RIG.run(course, bench(), journal)
    again = course_of(journal)
    assert len(again.left) in (7, 8)  # whether the last verdict was written before the end
    RIG.run(again, bench(), journal)
    return journal


def test_what_was_done_before_is_not_done_again(whole: Path) -> None:
    begun = [one.event.trial for one in read_journal(whole) if isinstance(one.event, TrialBegun)]
    assert sorted(set(begun)) == list(range(1, 13))
    assert len(begun) <= 13
    assert not course_of(whole).left


def test_the_same_serial_is_the_same_unit_each_time(whole: Path) -> None:
    course = course_of(whole)
    assert course.values is not None
    first, second = course.values.unit_means
    # The units were placed apart by so much; seating and search scatter far less.
    assert second - first == pytest.approx(4.0, abs=1.0)


def test_whose_hands_put_a_unit_in_is_seen(whole: Path) -> None:
    values = course_of(whole).values
    assert values is not None
    maren, tobias, ilse = values.level_means
    # Who seats a unit nearer to the target has the output switch later: the stage's scale shows more.
    assert tobias - maren == pytest.approx(1.5, abs=0.8)
    assert tobias > maren > ilse


def test_each_trial_follows_from_its_record_alone(whole: Path) -> None:
    course = course_of(whole)
    with open_records(whole) as records:
        listed = [one for serial in course.design.units for one in records.attempts(serial)]
        judged = [one for one in listed if one.reason == "measured"]
        assert len(judged) == 12
        assert {one.person for one in judged} == {"Maren", "Tobias", "Ilse"}
        for one in judged[:6]:
            again = recount(records.attempt(one))
            assert again.agrees, again.departures
            assert again.worked_out is not None


def test_a_changed_conclusion_is_noticed(whole: Path) -> None:
    figures = figures_of(course_of(whole), None)
    assert figures is not None
    event = conclusion_event(figures, conclude(figures))
    note_on_study(whole, event)
    study = study_named(whole, "GAUGE-1")
    assert study is not None
    assert study.concluded is not None
    assert departures(study, event) == ()
    changed = StudyConcluded(event.study, "fit", event.words, {**event.figures, "gauge_mm": 0.001})
    note_on_study(whole, changed)
    told = study_named(whole, "GAUGE-1")
    assert told is not None
    assert "gauge_mm: recorded 0.001" in " ".join(departures(told, event))


def test_chance_goes_on_where_the_trials_before_left_it(whole: Path) -> None:
    """Begun anew with the same seed, the same seatings would come again, and repeats would look too much alike."""
    begun, done = Course(RIG.design(units=2, repeats=2)), course_of(whole)
    assert furnished(bench(), begun, RIG.plan).seed != furnished(bench(), done, RIG.plan).seed


def test_two_studies_in_one_record_keep_apart(whole: Path) -> None:
    order, sensor_type, profile = RIG.files
    other = replace(RIG.design(units=2, repeats=2), study="GAUGE-2")
    open_study(whole, other, inputs_of(order, sensor_type, profile))
    second = study_named(whole, None)
    assert second is not None
    assert second.design.study == "GAUGE-2"
    assert not second.course.readings
    first = study_named(whole, "GAUGE-1")
    assert first is not None
    assert not first.course.left


def test_a_study_that_is_not_whole_comes_to_nothing(tmp_path: Path) -> None:
    assert figures_of(course_of(opened(tmp_path)), None) is None


def test_the_record_knows_no_study_where_none_was_opened(tmp_path: Path) -> None:
    assert study_named(tmp_path / "journal.sqlite3", None) is None
    assert study_named(opened(tmp_path), "GAUGE-2") is None


def test_a_design_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    journal = opened(tmp_path)
    change(
        journal,
        "UPDATE entry SET body = replace(body, '\"repeats\"', '\"retries\"') WHERE kind = 'study-opened'",
    )
    with pytest.raises(JournalError, match="the recorded study GAUGE-1 cannot be read"):
        study_named(journal, None)
