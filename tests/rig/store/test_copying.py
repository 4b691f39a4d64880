"""Copies of the record: made while a bench works, put back without losing anything."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from rig.events import UnitJudged, UnitStarted, Verdict
from rig.journal import Journal, JournalError, read_journal
from rig.store.copying import NotProven, back_up, proven, restore
from rig.store.joining import NotJoined
from rig.store.opening import reading
from tests.rig.recorded import change, numbers, stamped, write
from tests.rig.sequencer.floor import Shift


@pytest.fixture
def path(tmp_path: Path, shift: Shift) -> Path:
    path = tmp_path / "data" / "journal.sqlite3"
    journal = Journal(path, "run-1")
    for one in shift.events:
        journal.record(one)
    journal.close()
    return path


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    return tmp_path / "copy.sqlite3"


def test_a_copy_made_while_a_bench_writes_is_whole_and_proven(path: Path, copy: Path) -> None:
    journal = Journal(path, "run-2")
    stop = threading.Event()

    def work() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            write(journal, number)
            journal.barrier().result(60)

    bench = threading.Thread(target=work)
    bench.start()
    try:
        for index in range(5):
            back_up(path, copy.with_name(f"copy-{index}"))
    finally:
        stop.set()
        bench.join()
        journal.close()
    for index in range(5):
        found = numbers(copy.with_name(f"copy-{index}"))
        assert found == numbers(path)[: len(found)]
    assert proven(path).broken is None


def test_a_file_that_is_there_is_never_written_over(path: Path, copy: Path) -> None:
    copy.write_text("apples")
    with pytest.raises(FileExistsError):
        back_up(path, copy)
    assert copy.read_text() == "apples"


def test_a_record_that_does_not_hold_makes_no_copy(path: Path, copy: Path) -> None:
    change(path, "UPDATE entry SET body = '{}' WHERE number = 9")
    with pytest.raises(NotProven, match="entry 9"):
        back_up(path, copy)
    assert not copy.exists()
    assert list(copy.parent.glob("copy*")) == []


def test_put_back_it_holds_what_it_held_and_the_old_one_is_kept(path: Path, copy: Path, shift: Shift) -> None:
    back_up(path, copy)
    later = Journal(path, "run-2")
    write(later, 1, 2, 3)
    later.close()
    aside = restore(path, copy).aside
    assert aside is not None
    assert list(read_journal(path)) == shift.events
    assert len(numbers(aside)) == len(shift.events) + 3
    assert copy.is_file()


def test_after_it_the_account_goes_on_under_another_bench(path: Path, copy: Path, shift: Shift) -> None:
    back_up(path, copy)
    restore(path, copy)
    again = Journal(path, "run-1")
    for one in shift.events:
        again.record(one)
    again.close()
    with closing(sqlite3.connect(path)) as database:
        counted = database.execute("SELECT bench, count(*), min(number) FROM entry GROUP BY bench").fetchall()
    assert counted == [(1, len(shift.events), 1), (2, len(shift.events), 1)]
    assert [account.open for account in proven(path).accounts] == [0, 0]


class TestWhileABenchWorks:
    def test_what_the_record_lacks_is_added_and_the_bench_goes_on(
        self, path: Path, copy: Path, tmp_path: Path, shift: Shift
    ) -> None:
        """The card of a bench died, and its record is put back while the new one is in use."""
        back_up(path, copy)
        new = tmp_path / "new" / "journal.sqlite3"
        working = Journal(new, "run-1")
        write(working, 1)
        working.barrier().result(60)
        assert restore(new, copy).added == len(shift.events)
        write(working, 2)
        working.close()
        assert list(read_journal(new))[: len(shift.events)] == shift.events
        later = Journal(new, "run-2")
        write(later, 1)
        later.close()
        with reading(new) as database:
            counted = database.execute(
                "SELECT bench, count(*) FROM entry GROUP BY bench ORDER BY bench"
            ).fetchall()
        assert counted == [(-1, len(shift.events)), (1, 3)]
        assert proven(new).broken is None
        assert restore(new, copy).aside is not None, "nobody works with it now"

    def test_what_it_has_already_is_not_added_again(self, path: Path, copy: Path, shift: Shift) -> None:
        back_up(path, copy)
        working = Journal(path, "run-2")
        write(working, 1)
        working.barrier().result(60)
        assert restore(path, copy).added == 0
        working.close()
        assert len(numbers(path)) == len(shift.events) + 1

    def test_what_was_left_undone_is_done_by_doing_it_again(
        self, path: Path, copy: Path, tmp_path: Path, shift: Shift, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        back_up(path, copy)
        new = tmp_path / "new" / "journal.sqlite3"
        working = Journal(new, "run-1")
        monkeypatch.setattr("rig.store.carrying._AT_ONCE", 40)
        change(
            new,
            "CREATE TRIGGER full BEFORE INSERT ON entry WHEN NEW.number = 90 BEGIN SELECT RAISE(ABORT, 'full'); END",
        )
        with pytest.raises(JournalError, match="full"):
            restore(new, copy)
        assert numbers(new) == numbers(path)[:80]
        change(new, "DROP TRIGGER full")
        assert restore(new, copy).added == len(shift.events) - 80
        working.close()
        assert list(read_journal(new)) == shift.events
        assert proven(new).broken is None

    def test_two_that_cannot_be_one_record_are_told_apart(
        self, path: Path, copy: Path, tmp_path: Path
    ) -> None:
        fork = tmp_path / "fork" / "journal.sqlite3"
        fork.parent.mkdir()
        fork.write_bytes(path.read_bytes())
        for one, serial in ((path, "QOC-8"), (fork, "QOC-9")):
            journal = Journal(one, f"run-{serial}")
            journal.record(stamped(1, serial, UnitStarted("A", 0)))
            journal.record(stamped(2, serial, UnitJudged(Verdict.BAD, "over-current", "as the test has it")))
            journal.close()
        back_up(path, copy)
        working = Journal(fork, "at work")
        with pytest.raises(NotJoined, match="another account of bench"):
            restore(fork, copy)
        working.close()

    def test_more_of_its_own_account_than_it_has_waits_for_the_end_of_its_work(
        self, path: Path, copy: Path, tmp_path: Path
    ) -> None:
        behind = tmp_path / "behind" / "journal.sqlite3"
        behind.parent.mkdir()
        behind.write_bytes(path.read_bytes())
        later = Journal(path, "run-2")
        write(later, 1, 2, 3)
        later.close()
        back_up(path, copy)
        working = Journal(behind, "at work")
        with pytest.raises(NotJoined, match=r"which works now, and its record only \d+: end its work"):
            restore(behind, copy)
        working.close()
        assert restore(behind, copy).aside is not None


def test_nothing_is_put_back_that_does_not_hold(path: Path, copy: Path) -> None:
    back_up(path, copy)
    change(copy, "UPDATE attempt SET verdict = 'bad'")
    before = path.read_bytes()
    with pytest.raises(NotProven):
        restore(path, copy)
    copy.write_bytes(b"apples" * 1000)
    with pytest.raises(JournalError):
        restore(path, copy)
    assert path.read_bytes() == before
    assert [one.name for one in path.parent.iterdir()] == [path.name]


def test_where_there_was_no_record_one_is_made(path: Path, copy: Path, tmp_path: Path, shift: Shift) -> None:
    back_up(path, copy)
    fresh = tmp_path / "other" / "journal.sqlite3"
    assert restore(fresh, copy).aside is None
    assert list(read_journal(fresh)) == shift.events
