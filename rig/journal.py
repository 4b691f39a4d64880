"""The journal: every event of every unit, durable before the next action that changes something.

A thread of its own writes, so that a slow card stalls neither heartbeat nor contact. It is woken only by
barriers, not by events: what has come since the last one is committed together, with one synchronisation of
the card.
"""

from __future__ import annotations

import json
import queue
import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import closing
from pathlib import Path

from rig.events import Stamped, event_from
from rig.store.appending import Row, append, begin_run
from rig.store.cutting import note_cut_off
from rig.store.database import SqliteDatabase
from rig.store.errors import JournalError, advice
from rig.store.holding import hold
from rig.store.opening import SCHEMA_VERSION, bench_of, open_to_write, reading, transaction
from rig.store.room import must_have_room, touch
from wiring.saying import say

__all__ = [
    "JOURNAL_NAME",
    "SCHEMA_VERSION",
    "STAMPED_COLUMNS",
    "Journal",
    "JournalError",
    "read_journal",
    "reading",
    "stamped_from",
]

JOURNAL_NAME = "journal.sqlite3"
"""Of the file in the folder of the records."""

_AS_JSON = json.JSONEncoder(separators=(",", ":")).encode
# An event that nothing waits for is on the disk after this time at the latest.
_LONGEST_WAIT_S = 1.0

_Barrier = tuple[Future[None], bool]
"""Who waits, and whether the disk has to show that it takes something even if there is nothing to write."""


class Journal:
    """Append-only account of one run in the store at `path`.

    Args:
        path: the database file; made, with its folder, if absent.
        run: name of this run, unique in the file.

    Raises:
        JournalError: when the file cannot be opened or is not a store of ours.

    """

    def __init__(self, path: Path, run: str) -> None:
        self.path = path
        self.run = run
        self._rows: deque[Row] = deque()
        self._barriers: queue.SimpleQueue[_Barrier | None] = queue.SimpleQueue()
        self._failure: Exception | None = None
        self._closed = False
        self._run: int | None = None
        self._open()
        self._thread = threading.Thread(target=self._write_for_ever, name="journal", daemon=True)
        self._thread.start()

    def _open(self) -> None:
        self._hold = hold(self.path)
        try:
            self._connection = open_to_write(self.path)
            self._database = SqliteDatabase(self._connection)
            self._bench = bench_of(self._connection)
            if self._hold.alone:
                self._note_cut_off()
            self._hold.share()
        except BaseException:
            self._hold.release()
            raise

    def _note_cut_off(self) -> None:
        try:
            with transaction(self._connection):
                note_cut_off(self._database, self._bench)
        except Exception as failure:
            self._connection.close()
            raise self._error(failure) from None

    def record(self, stamped: Stamped) -> None:
        """Hand an event to the writer; returns at once, from any thread.

        Raises:
            JournalError: when the journal is closed.

        """
        self._refuse_when_closed()
        self._rows.append(
            (
                stamped.number,
                stamped.at_ns,
                stamped.utc,
                stamped.order,
                stamped.serial,
                stamped.event.kind,
                _AS_JSON(stamped.body()),
            )
        )

    def barrier(self) -> Future[None]:
        """A future that is done once all that was recorded before is on the disk.

        It raises JournalError if anything before it could not be written.

        Raises:
            JournalError: when the journal is closed.

        """
        return self._ask(probe=False)

    def room(self) -> Future[None]:
        """A future that is done once the disk has shown that it still takes what is written, with room for a unit.

        It raises JournalError if it does not: then no unit may be begun.

        Raises:
            JournalError: when the journal is closed.

        """
        return self._ask(probe=True)

    def close(self) -> None:
        """Write what is left and close the file.

        Raises:
            JournalError: if anything recorded could not be written.

        """
        self._closed = True
        self._barriers.put(None)
        self._thread.join()
        if self._failure is not None:
            raise self._error(self._failure)

    def _ask(self, *, probe: bool) -> Future[None]:
        self._refuse_when_closed()
        done: Future[None] = Future()
        self._barriers.put((done, probe))
        return done

    def _refuse_when_closed(self) -> None:
        if self._closed:
            raise JournalError(
                say("{path}: the record is closed; nothing can be added to it", path=self.path)
            )

    def _write_for_ever(self) -> None:
        try:
            with closing(self._connection):
                end = False
                while not end:
                    barrier, end = self._next_barrier()
                    self._reach(barrier)
        finally:
            self._hold.release()

    def _next_barrier(self) -> tuple[_Barrier | None, bool]:
        """Wait for a barrier, or until events that nobody waits for have waited long; tell if it was the last."""
        try:
            barrier = self._barriers.get(timeout=_LONGEST_WAIT_S)
        except queue.Empty:
            return None, False
        return barrier, barrier is None

    def _reach(self, barrier: _Barrier | None) -> None:
        waiter, probe = barrier or (None, False)
        # All that is there now, and so all that was there when the barrier was asked for.
        rows = [self._rows.popleft() for _ in range(len(self._rows))]
        self._try(lambda: self._commit(rows, probe=probe))
        # Whoever waited may have been cancelled meanwhile; the writer must live on.
        if waiter is not None and waiter.set_running_or_notify_cancel():
            self._answer(waiter)

    def _answer(self, waiter: Future[None]) -> None:
        if self._failure is None:
            waiter.set_result(None)
        else:
            waiter.set_exception(self._error(self._failure))

    def _try(self, deed: Callable[[], None]) -> None:
        # After a failure nothing more is written: a gap in the account would be a false account.
        if self._failure is not None:
            return
        try:
            deed()
        except Exception as failure:  # whatever it is, whoever waits has to hear of it
            self._failure = failure

    def _commit(self, rows: list[Row], *, probe: bool) -> None:
        if probe:
            must_have_room(self.path)
        if not rows and not probe:
            return
        with transaction(self._connection):
            if probe:
                touch(self._database, self._bench)
            if rows:
                append(self._database, self._bench, self._run_id(rows[0]), rows)

    def _run_id(self, first: Row) -> int:
        if self._run is None:
            self._run = begin_run(self._database, self._bench, self.run, first[2])
        return self._run

    def _error(self, failure: Exception) -> JournalError:
        return JournalError(
            say(
                "{path}: the record could not be written ({failure}); {advice}",
                path=self.path,
                failure=failure,
                advice=advice(failure),
            )
        )


def read_journal(path: Path, *, serial: str | None = None) -> Iterator[Stamped]:
    """Yield the recorded events in order, of one unit or of all; nothing in the file is changed.

    Raises:
        JournalError: when the file is missing, damaged, or not a record of this version.

    """
    where, values = ("WHERE serial = ?", (serial,)) if serial is not None else ("", ())
    with reading(path) as database:
        rows = database.execute(f"SELECT {STAMPED_COLUMNS} FROM entry {where} ORDER BY bench, number", values)
        for row in rows:
            yield stamped_from(*row)


STAMPED_COLUMNS = "in_run, at_ns, utc, order_number, serial, kind, body"
"""What `stamped_from` takes, as columns of `entry`."""


def stamped_from(number: int, at_ns: int, utc: str, order: str, serial: str, kind: str, body: str) -> Stamped:
    """An event as it was recorded; raises ValueError for one of another version."""
    return Stamped(number, at_ns, utc, order, serial, event_from(kind, json.loads(body)))
