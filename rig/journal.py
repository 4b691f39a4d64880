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
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import closing
from pathlib import Path

from rig.events import Stamped, event_from
from rig.store.appending import Row, append, begin_run
from rig.store.database import SqliteDatabase
from rig.store.errors import JournalError
from rig.store.opening import SCHEMA_VERSION, bench_of, open_to_write, reading, transaction

__all__ = [
    "SCHEMA_VERSION",
    "STAMPED_COLUMNS",
    "Journal",
    "JournalError",
    "read_journal",
    "reading",
    "stamped_from",
]

_AS_JSON = json.JSONEncoder(separators=(",", ":")).encode
# An event that nothing waits for is on the disk after this time at the latest.
_LONGEST_WAIT_S = 1.0


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
        self._barriers: queue.SimpleQueue[Future[None] | None] = queue.SimpleQueue()
        self._failure: Exception | None = None
        self._closed = False
        self._connection = open_to_write(path)
        self._database = SqliteDatabase(self._connection)
        self._bench = bench_of(self._connection)
        self._run: int | None = None
        self._thread = threading.Thread(target=self._write_for_ever, name="journal", daemon=True)
        self._thread.start()

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
        self._refuse_when_closed()
        done: Future[None] = Future()
        self._barriers.put(done)
        return done

    def close(self) -> None:
        """Write what is left and close the file.

        Raises:
            JournalError: if anything recorded could not be written.

        """
        self._closed = True
        self._barriers.put(None)
        self._thread.join()
        if self._failure is not None:
            raise self._error()

    def _refuse_when_closed(self) -> None:
        if self._closed:
            raise JournalError(f"{self.path}: the record is closed; nothing can be added to it")

    def _write_for_ever(self) -> None:
        with closing(self._connection):
            end = False
            while not end:
                waiter, end = self._next_barrier()
                # All that is there now, and so all that was there when the barrier was asked for.
                self._commit([self._rows.popleft() for _ in range(len(self._rows))])
                # Whoever waited may have been cancelled meanwhile; the writer must live on.
                if waiter is not None and waiter.set_running_or_notify_cancel():
                    self._answer(waiter)

    def _next_barrier(self) -> tuple[Future[None] | None, bool]:
        """Wait for a barrier, or until events that nobody waits for have waited long; tell if it was the last."""
        try:
            waiter = self._barriers.get(timeout=_LONGEST_WAIT_S)
        except queue.Empty:
            return None, False
        return waiter, waiter is None

    def _answer(self, waiter: Future[None]) -> None:
        if self._failure is None:
            waiter.set_result(None)
        else:
            waiter.set_exception(self._error())

    def _commit(self, rows: list[Row]) -> None:
        # After a failure nothing more is written: a gap in the account would be a false account.
        if not rows or self._failure is not None:
            return
        try:
            with transaction(self._connection):
                if self._run is None:
                    self._run = begin_run(self._database, self._bench, self.run, rows[0][2])
                append(self._database, self._bench, self._run, rows)
        except Exception as failure:  # whatever it is, whoever waits has to hear of it
            self._failure = failure

    def _error(self) -> JournalError:
        return JournalError(
            f"{self.path}: the record could not be written ({self._failure}); "
            "free or mend the disk, then start again"
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
