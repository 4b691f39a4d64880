"""The journal: every event of every unit, durable before the next action that changes something.

A thread of its own writes, so that a slow card stalls neither heartbeat nor contact. It is woken only by
barriers, not by events: what has come since the last one is committed together, with one synchronisation of
the card.
"""

from __future__ import annotations

import json
import os
import queue
import sqlite3
import threading
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import closing, contextmanager
from pathlib import Path

from rig.events import Stamped, event_from

SCHEMA_VERSION = 1
# Tells our files from every other SQLite file ("TRJL").
_APPLICATION_ID = 0x54524A4C
_SCHEMA = (
    """CREATE TABLE IF NOT EXISTS entry (
        id INTEGER PRIMARY KEY,
        run TEXT NOT NULL,
        number INTEGER NOT NULL,
        at_ns INTEGER NOT NULL,
        utc TEXT NOT NULL,
        order_number TEXT NOT NULL,
        serial TEXT NOT NULL,
        kind TEXT NOT NULL,
        body TEXT NOT NULL,
        UNIQUE (run, number)
    )""",
    "CREATE INDEX IF NOT EXISTS entry_by_serial ON entry (serial, id)",
    f"PRAGMA application_id = {_APPLICATION_ID}",
    f"PRAGMA user_version = {SCHEMA_VERSION}",
)
_INSERT = (
    "INSERT INTO entry (run, number, at_ns, utc, order_number, serial, kind, body) VALUES (?,?,?,?,?,?,?,?)"
)

Row = tuple[str, int, int, str, str, str, str, str]
_AS_JSON = json.JSONEncoder(separators=(",", ":")).encode
# An event that nothing waits for is on the disk after this time at the latest.
_LONGEST_WAIT_S = 1.0


class JournalError(OSError):
    """The journal cannot be written or read: stop before a unit is taught, mend the disk, start again."""


class Journal:
    """Append-only account of one run in the SQLite file at `path`.

    Args:
        path: the database file; made, with its folder, if absent.
        run: name of this run, unique in the file.

    Raises:
        JournalError: when the file cannot be opened or is not a journal of this version.

    """

    def __init__(self, path: Path, run: str) -> None:
        self.path = path
        self.run = run
        self._rows: deque[Row] = deque()
        self._barriers: queue.SimpleQueue[Future[None] | None] = queue.SimpleQueue()
        self._failure: Exception | None = None
        self._closed = False
        self._database = _open(path)
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
                self.run,
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
        with closing(self._database):
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
            with self._database:
                self._database.executemany(_INSERT, rows)
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
        JournalError: when the file is missing, damaged, or not a journal of this version.

    """
    where, values = ("WHERE serial = ?", (serial,)) if serial is not None else ("", ())
    with reading(path) as database:
        rows = database.execute(f"SELECT {STAMPED_COLUMNS} FROM entry {where} ORDER BY id", values)
        for row in rows:
            yield stamped_from(*row)


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """The journal, opened so that nothing in it can be changed; use it for questions about `entry` only.

    Raises:
        JournalError: when the file is missing, damaged, or not a journal of this version.

    """
    if not path.is_file():
        raise JournalError(f"{path}: no such journal")
    try:
        with closing(_open_to_read(path)) as database:
            _check_file(path, database)
            yield database
    except (sqlite3.Error, ValueError) as failure:
        raise JournalError(
            f"{path}: the record cannot be read ({failure}); damaged, or written by another version"
        ) from failure


STAMPED_COLUMNS = "number, at_ns, utc, order_number, serial, kind, body"
"""What `stamped_from` takes, as columns of `entry`."""


def stamped_from(number: int, at_ns: int, utc: str, order: str, serial: str, kind: str, body: str) -> Stamped:
    """An event as it was recorded; raises ValueError for one of another version."""
    return Stamped(number, at_ns, utc, order, serial, event_from(kind, json.loads(body)))


def _open(path: Path) -> sqlite3.Connection:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        database = sqlite3.connect(path, check_same_thread=False, timeout=5.0)
        try:
            _prepare(path, database)
        except BaseException:
            database.close()
            raise
    except (OSError, sqlite3.Error) as failure:
        if isinstance(failure, JournalError):
            raise
        raise JournalError(
            f"{path}: cannot keep the record here ({failure}); choose another folder"
        ) from None
    return database


def _prepare(path: Path, database: sqlite3.Connection) -> None:
    _check_file(path, database)
    # WAL with FULL: one fsync a commit, and what was acknowledged survives a power cut.
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("PRAGMA synchronous = FULL")
    # All in one: a program that opens the file at the same moment must not find it half made.
    database.execute("BEGIN IMMEDIATE")
    with database:
        for statement in _SCHEMA:
            database.execute(statement)


def _check_file(path: Path, database: sqlite3.Connection) -> None:
    tables, application, version = (
        database.execute(question).fetchone()[0]
        for question in ("SELECT count(*) FROM sqlite_schema", "PRAGMA application_id", "PRAGMA user_version")
    )
    if tables and application != _APPLICATION_ID:
        raise JournalError(f"{path}: not a journal but another program's file; choose another file")
    if tables and version != SCHEMA_VERSION:
        raise JournalError(
            f"{path}: journal of version {version}; this program reads version {SCHEMA_VERSION}"
        )


def _open_to_read(path: Path) -> sqlite3.Connection:
    # Where nothing can be written, no write-ahead log can be made; and none is needed if none was left.
    left_behind = path.with_name(f"{path.name}-wal").exists()
    mode = "rw" if os.access(path.parent, os.W_OK) else "ro" if left_behind else "ro&immutable=1"
    database = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True)
    database.execute("PRAGMA query_only = ON")
    return database
