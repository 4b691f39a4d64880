"""The journal: every event of every unit, durable before the next action that changes something.

A thread of its own writes, so that a slow card stalls neither heartbeat nor contact. Whatever waits
at the moment is committed together: one synchronisation of the card per barrier, not per event.
"""

from __future__ import annotations

import json
import queue
import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import Future
from contextlib import closing
from pathlib import Path

from rig.events import Stamped, event_from

SCHEMA_VERSION = 1
_SCHEMA = """
CREATE TABLE IF NOT EXISTS entry (
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
);
CREATE INDEX IF NOT EXISTS entry_by_serial ON entry (serial, id);
"""
_INSERT = (
    "INSERT INTO entry (run, number, at_ns, utc, order_number, serial, kind, body) VALUES (?,?,?,?,?,?,?,?)"
)

Row = tuple[str, int, int, str, str, str, str, str]
_LARGEST_BATCH = 200
_QUIET_S = 1.0


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
        self._inbox: queue.SimpleQueue[Row | Future[None] | None] = queue.SimpleQueue()
        self._failure: BaseException | None = None
        self._database = _open(path)
        self._thread = threading.Thread(target=self._write_for_ever, name="journal", daemon=True)
        self._thread.start()

    def record(self, stamped: Stamped) -> None:
        """Hand an event to the writer; returns at once, from any thread."""
        self._inbox.put(
            (
                self.run,
                stamped.number,
                stamped.at_ns,
                stamped.utc,
                stamped.order,
                stamped.serial,
                stamped.event.kind,
                json.dumps(stamped.body(), separators=(",", ":")),
            )
        )

    def barrier(self) -> Future[None]:
        """A future that is done once all that was recorded before is on the disk.

        It raises JournalError if anything before it could not be written.
        """
        done: Future[None] = Future()
        self._inbox.put(done)
        return done

    def close(self) -> None:
        """Write what is left and close the file.

        Raises:
            JournalError: if anything recorded could not be written.

        """
        self._inbox.put(None)
        self._thread.join()
        if self._failure is not None:
            raise self._error()

    def _write_for_ever(self) -> None:
        with closing(self._database):
            while True:
                rows, waiters, end = _take(self._inbox)
                self._commit(rows)
                for waiter in waiters:
                    if self._failure is None:
                        waiter.set_result(None)
                    else:
                        waiter.set_exception(self._error())
                if end:
                    return

    def _commit(self, rows: list[Row]) -> None:
        # After a failure nothing more is written: a gap in the account would be a false account.
        if not rows or self._failure is not None:
            return
        try:
            with self._database:
                self._database.executemany(_INSERT, rows)
        except sqlite3.Error as failure:
            self._failure = failure

    def _error(self) -> JournalError:
        return JournalError(
            f"{self.path}: the record could not be written ({self._failure}); "
            "free or mend the disk, then start again"
        )


def read_journal(path: Path, *, serial: str | None = None) -> Iterator[Stamped]:
    """Yield the recorded events in order, of one unit or of all.

    Raises:
        JournalError: when the file is missing or is not a journal of this version.

    """
    if not path.is_file():
        raise JournalError(f"{path}: no such journal")
    where, values = ("WHERE serial = ?", (serial,)) if serial is not None else ("", ())
    with closing(_open(path)) as database:
        rows = database.execute(
            f"SELECT number, at_ns, utc, order_number, serial, kind, body FROM entry {where} ORDER BY id",
            values,
        )
        for number, at_ns, utc, order, of_serial, kind, body in rows:
            yield Stamped(number, at_ns, utc, order, of_serial, event_from(kind, json.loads(body)))


def _open(path: Path) -> sqlite3.Connection:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        database = sqlite3.connect(path, check_same_thread=False, timeout=5.0)
        version = database.execute("PRAGMA user_version").fetchone()[0]
        if version not in (0, SCHEMA_VERSION):
            database.close()
            raise JournalError(
                f"{path}: journal of version {version}; this program reads version {SCHEMA_VERSION}"
            )
        # WAL with FULL: one fsync a commit, and what was acknowledged survives a power cut.
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("PRAGMA synchronous = FULL")
        database.executescript(_SCHEMA)
        database.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    except (OSError, sqlite3.Error) as failure:
        if isinstance(failure, JournalError):
            raise
        raise JournalError(
            f"{path}: cannot keep the record here ({failure}); choose another folder"
        ) from None
    return database


def _take(
    inbox: queue.SimpleQueue[Row | Future[None] | None],
) -> tuple[list[Row], list[Future[None]], bool]:
    """Collect what is to be written together: until somebody waits for it, or a quiet second has passed."""
    rows: list[Row] = []
    waiters: list[Future[None]] = []
    while not waiters and len(rows) < _LARGEST_BATCH:
        try:
            item = inbox.get(timeout=_QUIET_S if rows else None)
        except queue.Empty:
            break
        if item is None:
            return rows, waiters, True
        if isinstance(item, Future):
            waiters.append(item)
        else:
            rows.append(item)
    return rows, waiters, False
