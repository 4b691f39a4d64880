"""The journal: what was acknowledged is there, in order, whatever happens to program and disk."""

from __future__ import annotations

import signal
import sqlite3
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from rig.journal import Journal, JournalError, read_journal
from tests.rig.recorded import change, child, locked, numbers, refuse_serial, stamped, write

SOON_S = 5.0


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite3"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    journal = Journal(path, "run-1")
    yield journal
    with suppress(JournalError):  # where the test has broken it
        journal.close()


class TestKeeping:
    def test_what_was_recorded_is_read_back_in_order(self, journal: Journal, path: Path) -> None:
        written = [stamped(number, f"QOC-{number % 3}") for number in range(1, 501)]
        for one in written:
            journal.record(one)
        journal.close()
        assert list(read_journal(path)) == written

    def test_events_of_one_unit_alone(self, journal: Journal, path: Path) -> None:
        for number, serial in enumerate(["QOC-1", "QOC-2", "", "QOC-1", "QOC-10"], start=1):
            write(journal, number, serial=serial)
        journal.close()
        assert numbers(path, serial="QOC-1") == [1, 4]
        assert numbers(path, serial="QOC-3") == []
        assert numbers(path, serial="") == [3]

    def test_a_barrier_is_done_only_when_others_can_read_it(self, journal: Journal, path: Path) -> None:
        for last in range(1, 21):
            write(journal, last)
            journal.barrier().result(SOON_S)
            assert numbers(path) == list(range(1, last + 1))

    def test_a_barrier_with_nothing_before_it_is_done_at_once(self, journal: Journal) -> None:
        journal.barrier().result(SOON_S)

    def test_events_that_nobody_waits_for_are_written_within_a_second_or_so(
        self, journal: Journal, path: Path
    ) -> None:
        # They keep coming, so that there is never a quiet moment.
        end_s = time.monotonic() + 1.6
        for number in count(1):
            write(journal, number)
            time.sleep(0.05)
            if time.monotonic() > end_s:
                break
        assert len(numbers(path)) > 5

    def test_a_second_run_is_added_to_the_first(self, journal: Journal, path: Path) -> None:
        write(journal, 1, 2)
        journal.close()
        again = Journal(path, "run-2")
        write(again, 1, 2, 3)
        again.close()
        assert numbers(path) == [1, 2, 1, 2, 3]

    def test_the_folder_is_made(self, tmp_path: Path) -> None:
        path = tmp_path / "shop" / "records" / "journal.sqlite3"
        Journal(path, "run-1").close()
        assert numbers(path) == []

    def test_the_disk_is_synchronised_at_every_commit(
        self, path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        # Nothing short of a power cut shows a missing fsync, so the setting itself is looked at.
        opened: list[sqlite3.Connection] = []
        connect = sqlite3.connect

        def watched(*args: Any, **options: Any) -> sqlite3.Connection:
            opened.append(connect(*args, **options))
            return opened[-1]

        monkeypatch.setattr(sqlite3, "connect", watched)
        journal = Journal(path, "run-1")
        assert opened[0].execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
        assert opened[0].execute("PRAGMA journal_mode").fetchone() == ("wal",)
        journal.close()


_RECORD_UNTIL_KILLED = """
import sys
from itertools import count
from pathlib import Path
from rig.journal import Journal
from tests.rig.recorded import stamped

journal = Journal(Path(sys.argv[1]), "run-1")
for first in count(1, 10):
    for number in range(first, first + 10):
        journal.record(stamped(number))
    journal.barrier().result()
    print(first + 9, flush=True)
"""


class TestKilling:
    def test_what_was_acknowledged_outlives_a_killed_program(self, path: Path) -> None:
        with child(_RECORD_UNTIL_KILLED, path) as process:
            assert process.stdout is not None
            for _ in range(5):
                acknowledged = int(process.stdout.readline())
            process.send_signal(signal.SIGKILL)
            rest = process.stdout.read().split()
        assert process.returncode == -signal.SIGKILL
        acknowledged = int(rest[-1]) if rest else acknowledged
        found = numbers(path)
        assert len(found) >= acknowledged
        assert found == list(range(1, len(found) + 1))
        after = Journal(path, "run-2")
        write(after, 1)
        after.close()
        assert numbers(path) == [*found, 1]

    def test_a_killed_program_is_read_without_being_opened_to_write_first(self, path: Path) -> None:
        with child(_RECORD_UNTIL_KILLED, path) as process:
            assert process.stdout is not None
            process.stdout.readline()
            process.send_signal(signal.SIGKILL)
            process.stdout.read()
        assert numbers(path)[:10] == list(range(1, 11))


_FILL_THE_DISK = """
import resource, sys
from itertools import count
from pathlib import Path
from rig.journal import Journal, JournalError
from tests.rig.recorded import stamped

journal = Journal(Path(sys.argv[1]), "run-1")
resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))
acknowledged = 0
try:
    for number in count(1):
        journal.record(stamped(number))
        journal.barrier().result()
        acknowledged = number
except JournalError as error:
    print(acknowledged, error)
"""


class TestFailingDisk:
    def test_a_disk_that_refuses_ends_the_account_there_for_good(self, journal: Journal, path: Path) -> None:
        write(journal, 1, 2, 3)
        journal.barrier().result(SOON_S)
        refuse_serial(path, "QOC-9")
        write(journal, 4, serial="QOC-9")
        with pytest.raises(JournalError) as refused:
            journal.barrier().result(SOON_S)
        assert str(path) in str(refused.value)
        assert "disk is gone" in str(refused.value)
        assert "free or mend the disk, then start again" in str(refused.value)
        # The disk is mended, but an account with a gap would be a false account.
        change(path, "DROP TRIGGER refuse")
        write(journal, 5)
        with pytest.raises(JournalError):
            journal.barrier().result(SOON_S)
        with pytest.raises(JournalError):
            journal.close()
        assert numbers(path) == [1, 2, 3]

    def test_a_failure_that_nobody_waited_for_is_told_at_the_end(self, journal: Journal, path: Path) -> None:
        refuse_serial(path, "QOC-9")
        write(journal, 1, serial="QOC-9")
        with pytest.raises(JournalError, match="disk is gone"):
            journal.close()

    def test_a_row_that_cannot_be_written_fails_the_barrier_instead_of_hanging_it(
        self, journal: Journal
    ) -> None:
        write(journal, 1, serial="\ud800")
        with pytest.raises(JournalError):
            journal.barrier().result(SOON_S)

    def test_a_run_of_the_same_name_is_not_mixed_with_the_first(self, journal: Journal, path: Path) -> None:
        write(journal, 1)
        journal.close()
        again = Journal(path, "run-1")
        write(again, 1)
        with pytest.raises(JournalError):
            again.close()
        assert numbers(path) == [1]

    def test_a_disk_that_fills_up_keeps_what_was_acknowledged(self, path: Path) -> None:
        with child(_FILL_THE_DISK, path) as process:
            assert process.stdout is not None
            words = process.stdout.read()
        acknowledged, _, message = words.partition(" ")
        assert "free or mend the disk" in message
        assert int(acknowledged) > 10
        assert numbers(path) == list(range(1, int(acknowledged) + 1))

    def test_a_slow_disk_delays_barriers_but_never_an_event(self, journal: Journal, path: Path) -> None:
        with locked(path):
            started_s = time.monotonic()
            write(journal, *range(1, 1001))
            barrier = journal.barrier()
            assert time.monotonic() - started_s < 5.0
            time.sleep(0.2)
            assert not barrier.done()
            assert numbers(path) == []
        barrier.result(SOON_S)
        assert numbers(path) == list(range(1, 1001))

    def test_whoever_stops_waiting_does_not_stop_the_writer(self, journal: Journal, path: Path) -> None:
        with locked(path):
            write(journal, 1)
            assert journal.barrier().cancel()
        write(journal, 2)
        journal.barrier().result(SOON_S)
        assert numbers(path) == [1, 2]


class TestClosing:
    def test_everything_is_written_before_it_closes(self, journal: Journal, path: Path) -> None:
        write(journal, *range(1, 1000))
        journal.close()
        assert numbers(path) == list(range(1, 1000))

    def test_nothing_is_lost_silently_after_it(self, journal: Journal) -> None:
        journal.close()
        with pytest.raises(JournalError, match="closed"):
            write(journal, 1)
        with pytest.raises(JournalError, match="closed"):
            journal.barrier()

    def test_twice_is_once(self, journal: Journal) -> None:
        journal.close()
        journal.close()


class TestThreads:
    def test_events_from_many_threads_are_all_kept_each_thread_in_its_order(
        self, journal: Journal, path: Path
    ) -> None:
        start = threading.Barrier(8)

        def work(worker: int) -> None:
            start.wait()
            for number in range(200):
                write(journal, worker * 1000 + number, serial=f"QOC-{worker}")
                if number % 50 == 49:
                    journal.barrier().result(SOON_S)
                    assert len(numbers(path, serial=f"QOC-{worker}")) == number + 1

        workers = [threading.Thread(target=work, args=(worker,)) for worker in range(8)]
        for worker in workers:
            worker.start()
        for worker in workers:
            worker.join()
        journal.barrier().result(SOON_S)
        for worker_number in range(8):
            expected = list(range(worker_number * 1000, worker_number * 1000 + 200))
            assert numbers(path, serial=f"QOC-{worker_number}") == expected

    def test_two_benches_can_share_a_file(self, path: Path) -> None:
        one, other = Journal(path, "run-1"), Journal(path, "run-2")
        for number in range(1, 101):
            write(one, number, serial="QOC-1")
            write(other, number, serial="QOC-2")
        one.close()
        other.close()
        assert numbers(path, serial="QOC-1") == numbers(path, serial="QOC-2") == list(range(1, 101))
