"""Opens a store to ask it: that of a bench, or the shop's."""

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
from rig.store.shop import ShopDatabase, open_shop, speaking


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


@contextmanager
def open_shop_store(url: str) -> Iterator[Store]:
    """The shop's database with the accounts of all its benches, for questions only.

    Raises:
        ShopAway, ShopRefused: when it cannot be asked now, or not as it is named.

    """
    engine = open_shop(url)
    try:
        with speaking(url), engine.connect() as connection:
            connection.exec_driver_sql("SET TRANSACTION READ ONLY")
            yield Store(connection, Records(ShopDatabase(connection)))
    finally:
        engine.dispose()
