"""Opens a store to ask it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, StaticPool, create_engine
from sqlalchemy.exc import SQLAlchemyError

from rig.records import Records
from rig.store.database import SqliteDatabase
from rig.store.errors import JournalError
from rig.store.opening import reading


@dataclass(frozen=True, slots=True)
class Store:
    """An open store: to ask for rows, and for whole attempts."""

    connection: Connection
    records: Records


@contextmanager
def open_store(path: Path) -> Iterator[Store]:
    """The store of a bench, for questions only.

    Raises:
        JournalError: when the file is missing, damaged, or not a record of this version.

    """
    with reading(path) as database:
        engine = create_engine("sqlite://", creator=lambda: database, poolclass=StaticPool)
        try:
            with engine.connect() as connection:
                yield Store(connection, Records(SqliteDatabase(database)))
        except SQLAlchemyError as failure:
            why = getattr(failure, "orig", failure)
            raise JournalError(f"{path}: the record cannot be read ({why}); damaged") from None
