"""The program is killed, the disk is full, locked or damaged: nothing acknowledged is lost, nothing is made up."""

from __future__ import annotations

import json
import os
import pickle
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from hal.simulated.benchfile import BenchFile
from rig.events import OrderEnded, Purpose, UnitJudged, UnitStarted, Verdict, WorkCutOff
from rig.journal import Journal, JournalError, read_journal
from rig.records import open_records
from rig.resuming import done_before, left_on_shelf
from rig.store import room
from tests.rig.recorded import child, locked
from tests.rig.sequencer.floor import SETTINGS, Shift, work_through


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite3"


_STOP_AT = """
import os, pickle, signal, sys
from pathlib import Path
from rig.journal import Journal

journal = Journal(Path(sys.argv[1]), "cut")
for one in pickle.loads(Path(sys.argv[2]).read_bytes()):
    journal.record(one)
journal.barrier().result()
os.kill(os.getpid(), signal.SIGKILL)
"""


def killed_after(path: Path, shift: Shift, events: int) -> None:
    """Another program records so many events of a shift and is killed."""
    given = path.with_name("events")
    given.write_bytes(pickle.dumps(shift.events[:events]))
    with child(_STOP_AT, path, given) as process:
        process.wait(60)
    assert process.returncode == -signal.SIGKILL


def start_again(path: Path) -> None:
    Journal(path, f"after-{time.monotonic_ns()}").close()


class TestCutOff:
    def at(self, shift: Shift, serial: str, kind: type) -> int:
        return next(
            index
            for index, one in enumerate(shift.events, 1)
            if one.serial == serial and isinstance(one.event, kind)
        )

    def test_the_unit_in_hand_is_interrupted_and_its_order_closed_at_the_next_start(
        self, path: Path, shift: Shift
    ) -> None:
        killed_after(path, shift, self.at(shift, "QOC-2", UnitStarted) + 7)
        start_again(path)
        with open_records(path) as records:
            (first,), (second,) = records.attempts("QOC-1"), records.attempts("QOC-2")
            assert (first.verdict, first.reason) == (Verdict.GOOD, "proven")
            assert (second.verdict, second.reason) == (Verdict.UNDECIDED, "interrupted")
            attempt = records.attempt(second)
            assert attempt.judged is None
            assert isinstance(attempt.events[-1].event, WorkCutOff)
            assert records.attempts("QOC-3") == ()
        notes = [(one.serial, one.run) for one in _noted(path)]
        assert notes == [("QOC-2", "cut"), ("", "cut")]

    def test_between_two_units_only_the_order_is_closed(self, path: Path, shift: Shift) -> None:
        killed_after(path, shift, self.at(shift, "QOC-2", UnitStarted) - 1)
        start_again(path)
        assert [one.serial for one in _noted(path)] == [""]

    def test_it_is_noted_once(self, path: Path, shift: Shift) -> None:
        killed_after(path, shift, self.at(shift, "QOC-2", UnitStarted) + 7)
        start_again(path)
        start_again(path)
        assert len(_noted(path)) == 2

    def test_an_order_that_ended_is_left_alone(self, path: Path, shift: Shift) -> None:
        assert isinstance(shift.events[-1].event, OrderEnded)
        killed_after(path, shift, len(shift.events))
        start_again(path)
        assert _noted(path) == []

    def test_a_bench_that_still_works_is_not_cut_off_by_another_that_starts(
        self, path: Path, shift: Shift
    ) -> None:
        journal = Journal(path, "alive")
        for one in shift.events[: self.at(shift, "QOC-2", UnitStarted) + 7]:
            journal.record(one)
        journal.barrier().result(60)
        start_again(path)
        assert _noted(path) == []
        journal.close()


class _Note:
    def __init__(self, serial: str, run: str) -> None:
        self.serial, self.run = serial, run


def _noted(path: Path) -> list[_Note]:
    with closing(sqlite3.connect(path)) as database:
        rows = database.execute(
            "SELECT e.serial, r.name FROM entry e JOIN run r ON r.id = e.run "
            "WHERE kind = 'work-cut-off' ORDER BY number"
        )
        return [_Note(*row) for row in rows]


class TestDiskBeforeAUnit:
    def test_no_unit_is_begun_without_room_for_it(self, path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(room, "UNIT_BYTES", 10**18)
        with pytest.raises(
            JournalError, match=r"no room: .* MB free.*make room on the disk, then start again"
        ):
            work_through(SETTINGS["18 point"], journal=lambda: Journal(path, "test"))
        kinds = [one.event.kind for one in read_journal(path)]
        assert "unit-started" not in kinds

    def test_a_disk_that_takes_nothing_is_noticed_though_there_is_nothing_to_write(self, path: Path) -> None:
        journal = Journal(path, "test")
        with closing(sqlite3.connect(path, isolation_level=None)) as other:
            other.execute(
                "CREATE TRIGGER gone BEFORE UPDATE ON bench BEGIN SELECT RAISE(ABORT, 'disk is gone'); END"
            )
        with pytest.raises(JournalError, match="disk is gone"):
            journal.room().result(60)
        with pytest.raises(JournalError):
            journal.close()

    def test_a_store_that_another_program_holds_is_named_so(self, path: Path) -> None:
        journal = Journal(path, "test")
        with locked(path), pytest.raises(JournalError, match="another program holds it: end that, then"):
            journal.room().result(60)
        with pytest.raises(JournalError):
            journal.close()


def teachrig(*words: str, **more: Any) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", "from rig.cli.main import main; raise SystemExit(main())", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[3],
        **more,
    )


def _until(path: Path, there: Callable[[sqlite3.Connection], bool]) -> None:
    end_s = time.monotonic() + 20
    while time.monotonic() < end_s:
        if path.is_file():
            try:
                with closing(sqlite3.connect(path)) as database:
                    if there(database):
                        return
            except sqlite3.OperationalError:  # not made yet
                pass
        time.sleep(0.02)
    raise AssertionError("it did not come")


def test_an_order_is_taken_up_where_it_stood(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    with teachrig("run", "tipper-point-no", "--data", str(tmp_path), "--json") as process:
        _until(path, lambda database: database.execute("SELECT count(*) FROM attempt").fetchone()[0] >= 3)
        os.kill(process.pid, signal.SIGKILL)
    with teachrig("run", "tipper-point-no", "--data", str(tmp_path), "--json") as process:
        out, err = process.communicate(timeout=60)
    assert process.returncode == 0, err
    told = json.loads(out)
    assert "was begun before" in err
    with closing(sqlite3.connect(path)) as database:
        verdicts = database.execute(
            "SELECT serial, sum(verdict = 'good'), sum(reason = 'interrupted') FROM attempt GROUP BY serial"
        ).fetchall()
    assert [good for _, good, _ in verdicts] == [1] * 12
    assert sum(cut for _, _, cut in verdicts) <= 1
    assert 0 < len(told["units"]) < 12
    assert told["left"] == 0
    # It is finished, so it begins anew.
    with teachrig("run", "tipper-point-no", "--data", str(tmp_path), "--json") as process:
        out, err = process.communicate(timeout=60)
    assert len(json.loads(out)["units"]) == 12
    assert "was begun before" not in err


def resumed(path: Path, serials: tuple[str, ...] = ("QOC-1", "QOC-2", "QOC-3")) -> tuple[str, ...]:
    return done_before(path, "QOC-0900", Purpose.SET, serials, simulated=True)


class TestTakingUp:
    def test_no_record_and_an_order_that_ended_begin_anew(self, path: Path, shift: Shift) -> None:
        assert resumed(path) == ()
        killed_after(path, shift, len(shift.events))
        assert resumed(path) == ()

    def test_an_order_that_was_cut_off_after_its_last_verdict_is_not_done_again(
        self, path: Path, shift: Shift
    ) -> None:
        killed_after(path, shift, len(shift.events) - 1)
        assert resumed(path) == ("QOC-1", "QOC-2", "QOC-3")
        start_again(path)
        assert resumed(path) == ("QOC-1", "QOC-2", "QOC-3")

    def test_units_of_which_the_verdict_is_not_recorded_are_left(self, path: Path, shift: Shift) -> None:
        judged = next(
            index
            for index, one in enumerate(shift.events)
            if one.serial == "QOC-2" and isinstance(one.event, UnitJudged)
        )
        killed_after(path, shift, judged)
        assert resumed(path) == ("QOC-1",)
        start_again(path)
        assert resumed(path) == ("QOC-1",)
        assert resumed(path, ("QOC-2", "QOC-7")) == ()

    def test_what_is_left_on_a_simulated_bench_are_the_units_of_the_serials_left(self) -> None:
        rows = [{"count": 2}, {"faults": [{"kind": "dead"}]}, {"count": 3}]
        bench_file = BenchFile.model_validate({"title": "test", "unit": rows})
        serials = tuple("abcdef")
        left = left_on_shelf(bench_file, serials, ("a", "d"))
        assert [bool(row.faults) for row in left.unit] == [False, True, False, False]
        endless = bench_file.model_copy(update={"endless": True})
        assert len(left_on_shelf(endless, tuple("abcdefgh"), ("a",)).unit) == 7
