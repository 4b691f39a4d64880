"""Questions to the journal: every attempt at a unit, whole, whatever else the journal holds, and in good time."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from rig.events import Stamped, UnitJudged, UnitStarted, Verdict
from rig.journal import Journal, JournalError
from rig.records import ATTEMPTS, OF_UNIT, OPENING, SERIALS, open_records
from rig.recount.recount import recount
from tests.rig.recorded import change
from tests.rig.sequencer.floor import SETTINGS, Shift, work_through


@pytest.fixture(scope="module")
def shift() -> Shift:
    return work_through(SETTINGS["18 point"], units=3)


@pytest.fixture
def path(tmp_path: Path, shift: Shift) -> Path:
    """Three units in one run, and the second of them once more in a run of its own."""
    path = tmp_path / "journal.sqlite3"
    again = [one for one in shift.events if one.serial in ("", "QOC-2")]
    record(path, "run-1", shift.events)
    record(path, "run-2", again)
    return path


def record(path: Path, run: str, events: list[Stamped]) -> None:
    journal = Journal(path, run)
    for one in events:
        journal.record(one)
    journal.close()


class TestAnOrder:
    def test_every_attempt_in_order_of_work_with_only_the_events_that_are_asked_for(self, path: Path) -> None:
        with open_records(path) as records:
            attempts = list(records.of_order("QOC-0900", UnitJudged))
            whole = [records.attempt(records.attempts(one.begin.serial)[0]) for one in attempts[:3]]
        assert [(one.run, one.begin.serial) for one in attempts] == [
            ("run-1", "QOC-1"),
            ("run-1", "QOC-2"),
            ("run-1", "QOC-3"),
            ("run-2", "QOC-2"),
        ]
        for light, full in zip(attempts, whole, strict=False):
            assert [type(one.event) for one in light.events] == [UnitStarted, UnitJudged]
            assert set(light.events) <= set(full.events)
            assert (light.started, light.inputs) == (full.started, full.inputs)

    def test_the_units_of_another_order_are_none_of_it(self, path: Path) -> None:
        with open_records(path) as records:
            assert list(records.of_order("QOC-0901", UnitJudged)) == []


class TestAttempts:
    def test_every_attempt_of_one_unit_alone_the_first_one_first(self, path: Path) -> None:
        with open_records(path) as records:
            assert [one.run for one in records.attempts("QOC-1")] == ["run-1"]
            assert [one.run for one in records.attempts("QOC-2")] == ["run-1", "run-2"]
            assert records.attempts("QOC-9") == ()
            assert records.attempts("") == ()

    def test_a_listed_attempt_says_order_begin_and_verdict(self, path: Path) -> None:
        with open_records(path) as records:
            (listed,) = records.attempts("QOC-3")
        assert (listed.serial, listed.order, listed.verdict, listed.reason) == (
            "QOC-3",
            "QOC-0900",
            Verdict.GOOD,
            "proven",
        )
        assert listed.began_utc.startswith("2026-01-05T07:0")

    def test_an_attempt_is_whole_and_can_be_counted_again(self, path: Path, shift: Shift) -> None:
        with open_records(path) as records:
            for serial in ("QOC-1", "QOC-2", "QOC-3"):
                for listed in records.attempts(serial):
                    attempt = records.attempt(listed)
                    assert {one.serial for one in attempt.events} == {serial}
                    assert recount(attempt).agrees
        assert attempt.account == tuple(
            one for one in shift.events if one.serial == "QOC-3" and one in attempt.account
        )

    def test_two_attempts_in_one_run_are_kept_apart(self, tmp_path: Path, shift: Shift) -> None:
        unit = [one for one in shift.events if one.serial in ("", "QOC-1")]
        begin = next(index for index, one in enumerate(unit) if isinstance(one.event, UnitStarted))
        broken_off = unit[: begin + 9]
        later = [replace(one, number=one.number + 1000) for one in unit[begin:]]
        path = tmp_path / "journal.sqlite3"
        record(path, "run-1", broken_off + later)
        with open_records(path) as records:
            first, second = records.attempts("QOC-1")
            assert (first.verdict, second.verdict) == (None, Verdict.GOOD)
            assert len(records.attempt(first).events) == 9
            assert recount(records.attempt(second)).agrees

    def test_two_runs_that_were_written_at_the_same_time_are_kept_apart(
        self, tmp_path: Path, shift: Shift
    ) -> None:
        path = tmp_path / "journal.sqlite3"
        one, other = Journal(path, "one"), Journal(path, "other")
        for event in shift.events:
            for journal in (one, other):
                journal.record(event)
                journal.barrier().result(60)
        one.close()
        other.close()
        with open_records(path) as records:
            listed = records.attempts("QOC-2")
            assert [entry.run for entry in listed] == ["one", "other"]
            assert all(recount(records.attempt(entry)).agrees for entry in listed)


class TestSerials:
    def test_every_serial_once_and_none_for_what_belongs_to_no_unit(self, path: Path) -> None:
        with open_records(path) as records:
            assert records.serials() == ["QOC-1", "QOC-2", "QOC-3"]

    def test_an_empty_journal_knows_none(self, tmp_path: Path) -> None:
        record(tmp_path / "journal.sqlite3", "run-1", [])
        with open_records(tmp_path / "journal.sqlite3") as records:
            assert records.serials() == []


class TestBadFiles:
    def test_a_journal_that_is_not_there(self, tmp_path: Path) -> None:
        with pytest.raises(JournalError, match="no such journal"), open_records(tmp_path / "none.sqlite3"):
            pass

    def test_an_entry_that_is_no_event(self, path: Path) -> None:
        change(path, "UPDATE entry SET body = '{}' WHERE kind = 'check-done'")
        with (
            pytest.raises(JournalError, match="damaged, or written by another"),
            open_records(path) as records,
        ):
            records.attempt(records.attempts("QOC-1")[0])


_SPAN = {"bench": 1, "first": 3, "last": 20, "run": 1, "serial": "QOC-1"}


@pytest.mark.parametrize(
    ("question", "ways"),
    [
        (ATTEMPTS, ["SEARCH a USING INDEX attempt_by_serial (serial=?)"]),
        (OF_UNIT, ["SEARCH entry USING PRIMARY KEY (bench=? AND number>? AND number<?)"]),
        (OPENING, ["SEARCH entry USING PRIMARY KEY (bench=? AND number>? AND number<?)"]),
        (
            SERIALS,
            [
                "SEARCH attempt USING COVERING INDEX attempt_by_serial",
                "SEARCH attempt USING COVERING INDEX attempt_by_serial (serial>?)",
            ],
        ),
    ],
)
def test_no_question_looks_at_entries_of_other_units(path: Path, question: str, ways: list[str]) -> None:
    with closing(sqlite3.connect(path)) as database:
        plan = [row[3] for row in database.execute(f"EXPLAIN QUERY PLAN {question}", _SPAN)]
    searched = [line for line in plan if line.split()[1:2] in (["entry"], ["attempt"], ["a"])]
    assert searched == ways
