"""Opens the store of a bench: a SQLite file that only this program may have made, brought up to this version."""

from __future__ import annotations

import os
import platform
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from uuid import uuid4

from rig.store.errors import JournalError, cannot_keep
from rig.store.private import private_file, private_folder
from wiring.plainwords import printable

# Tells our files from every other SQLite file ("TRJL").
APPLICATION_ID = 0x54524A4C
SCHEMA_VERSION = 5
"""Which migration the tables are at; SQLite keeps it in the head of the file, so that a look at that is enough."""
_BUSY_S = 5.0

_IDENTITY = "INSERT INTO bench (uuid, name, made_utc) SELECT ?, ?, ? WHERE NOT EXISTS (SELECT 1 FROM bench)"


def open_to_write(path: Path) -> sqlite3.Connection:
    """The store at `path`, made with its folder if absent, migrated if older; transactions are the caller's.

    Raises:
        JournalError: when the file cannot be made or opened, or is not ours.

    """
    try:
        private_folder(path.parent)
        private_file(path)
        database = sqlite3.connect(path, check_same_thread=False, timeout=_BUSY_S, isolation_level=None)
        try:
            _prepare(path, database)
        except BaseException:
            database.close()
            raise
    except (OSError, sqlite3.Error) as failure:
        if isinstance(failure, JournalError):
            raise
        raise cannot_keep(path, failure) from None
    return database


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """The store, opened so that nothing in it can be changed.

    Raises:
        JournalError: when the file is missing, damaged, or not a record of this version.

    """
    if not os.path.isfile(path):  # no error for what can be no name of a file
        raise JournalError(f"{printable(str(path), 300)}: no such journal; nothing was recorded there yet")
    try:
        with closing(_open_to_read(path)) as database:
            if version_of(path, database) == SCHEMA_VERSION:
                yield database
                return
        open_to_write(path).close()
        with closing(_open_to_read(path)) as database:
            yield database
    except (sqlite3.Error, ValueError) as failure:
        raise JournalError(
            f"{path}: the record cannot be read ({failure}); damaged, or written by another version"
        ) from failure


def set_up(database: sqlite3.Connection) -> None:
    """Choose how the file is kept, for a card that may lose its supply at any moment.

    WAL with FULL: what was acknowledged survives, with one fsync a commit and each page written once, where a rollback
    journal needs three and writes it twice; a card wears with what is written to it. Two seconds of the heartbeat's
    work fit into the log before it is carried over (1000 pages), so that no commit has to wait for much.
    """
    database.execute("PRAGMA journal_mode = WAL")
    database.execute("PRAGMA synchronous = FULL")
    database.execute("PRAGMA foreign_keys = ON")


@contextmanager
def transaction(database: sqlite3.Connection) -> Iterator[None]:
    """All or nothing, with the right to write from the begin on."""
    database.execute("BEGIN IMMEDIATE")
    try:
        yield
        database.execute("COMMIT")
    except BaseException:
        if database.in_transaction:
            database.execute("ROLLBACK")
        raise


def version_of(path: Path, database: sqlite3.Connection) -> int:
    """The version of a file of ours; 0 for an empty one.

    Raises:
        JournalError: for another program's file, and for one of a newer version.

    """
    tables, application, version = (
        database.execute(question).fetchone()[0]
        for question in ("SELECT count(*) FROM sqlite_schema", "PRAGMA application_id", "PRAGMA user_version")
    )
    if not tables:
        return 0
    if application != APPLICATION_ID:
        raise JournalError(f"{path}: not a journal but another program's file; choose another file")
    if not 0 < version <= SCHEMA_VERSION:
        raise JournalError(
            f"{path}: journal of version {version}; this program reads version {SCHEMA_VERSION}"
        )
    return int(version)


def bench_of(database: sqlite3.Connection) -> int:
    """The bench that writes here now."""
    return int(database.execute("SELECT max(id) FROM bench").fetchone()[0])


def new_identity(database: sqlite3.Connection) -> None:
    """Begin the account of a bench of its own, in a transaction of the caller."""
    _identify(database, _IDENTITY.partition(" WHERE ")[0])


def _identify(database: sqlite3.Connection, statement: str) -> None:
    made_utc = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
    database.execute(statement, (str(uuid4()), platform.node(), made_utc))


def _prepare(path: Path, database: sqlite3.Connection) -> None:
    version = version_of(path, database)
    set_up(database)
    if version == SCHEMA_VERSION:
        return
    if version == 0:
        # Looked at again inside: a program that opens the file at the same moment must not find it half made.
        with transaction(database):
            if version_of(path, database) == 0:
                _make(database)
        return
    from rig.store.migrating import migrate

    migrate(path, database)


def make_tables(database: sqlite3.Connection) -> None:
    """Make the tables of this version, with their guards, in an empty database."""
    for statement in (files("rig.store") / "new_store.sql").read_text(encoding="utf-8").split("\n;\n"):
        if statement:
            database.execute(statement)


def _make(database: sqlite3.Connection) -> None:
    make_tables(database)
    database.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    database.execute(f"PRAGMA user_version = {SCHEMA_VERSION}")
    _identify(database, _IDENTITY)


def _open_to_read(path: Path) -> sqlite3.Connection:
    # Where nothing can be written, no write-ahead log can be made; and none is needed if none was left.
    left_behind = path.with_name(f"{path.name}-wal").exists()
    mode = "rw" if os.access(path.parent, os.W_OK) else "ro" if left_behind else "ro&immutable=1"
    database = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True)
    database.execute("PRAGMA query_only = ON")
    return database
