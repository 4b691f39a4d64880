"""Brings a store of an earlier version up to this one; the only part of a run that loads SQLAlchemy and alembic."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, StaticPool, create_engine, event
from sqlalchemy.exc import SQLAlchemyError

from rig.store.database import SqliteDatabase
from rig.store.errors import JournalError
from rig.store.opening import APPLICATION_ID, SCHEMA_VERSION, new_identity
from rig.store.replaying import replay


def migrate(path: Path, database: sqlite3.Connection) -> None:
    """Migrate the open file of a bench in one transaction: a power cut leaves it as it was.

    Raises:
        JournalError: when that cannot be done.

    """
    try:
        _migrate(database)
    except SQLAlchemyError as failure:
        why = getattr(failure, "orig", failure)
        raise JournalError(
            f"{path}: cannot keep the record here: it is of an earlier version and cannot be brought up to this one "
            f"({why}); it is as it was"
        ) from None


def _migrate(database: sqlite3.Connection) -> None:
    engine = create_engine("sqlite://", creator=lambda: database, poolclass=StaticPool)
    event.listen(engine, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
    with engine.begin() as connection:
        stamp_version_1(connection)
        upgrade(connection)
        if not connection.exec_driver_sql("SELECT count(*) FROM bench").scalar():
            new_identity(database)
        replay(SqliteDatabase(database))
        connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.exec_driver_sql(f"PRAGMA user_version = {SCHEMA_VERSION}")


def upgrade(connection: Connection, to: str = "head") -> None:
    """Run the migrations that are missing, inside the connection's transaction."""
    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, to)


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    return config


def stamp_version_1(connection: Connection) -> None:
    """Version 1 knew no migrations: whoever holds such a file is at the first of them."""
    if not connection.dialect.has_table(connection, "alembic_version"):
        config = _config()
        config.attributes["connection"] = connection
        command.stamp(config, "0001")
