"""Copies of the record: made while a bench works, put back without losing anything."""

from __future__ import annotations

import sqlite3
import threading
from contextlib import closing
from pathlib import Path

import pytest

from rig.journal import Journal, JournalError, read_journal
from rig.store.copying import Held, NotProven, back_up, proven, restore
from tests.rig.recorded import change, numbers, write
from tests.rig.sequencer.floor import SETTINGS, Shift, work_through


@pytest.fixture(scope="module")
def shift() -> Shift:
    return work_through(SETTINGS["18 point"], units=2)


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
            journal.barrier().result(10)

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
    aside = restore(path, copy)
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


def test_not_while_a_bench_works(path: Path, copy: Path) -> None:
    back_up(path, copy)
    journal = Journal(path, "run-2")
    before = path.read_bytes()
    with pytest.raises(Held, match="a bench works with this record"):
        restore(path, copy)
    assert path.read_bytes() == before
    journal.close()
    restore(path, copy)


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
    assert restore(fresh, copy) is None
    assert list(read_journal(fresh)) == shift.events
