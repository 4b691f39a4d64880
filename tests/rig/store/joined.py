"""Accounts of benches, and what of them stands in the database of their shop."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Engine

from rig.journal import Journal
from rig.store.audit import Audit, audit
from rig.store.database import Database, SqliteDatabase
from rig.store.opening import reading
from rig.store.shop import ShopDatabase
from tests.rig.sequencer.floor import Shift


def bench(folder: Path, shift: Shift, *runs: str) -> Path:
    """A data folder in which the events of a shift stand, once for each run."""
    path = folder / "journal.sqlite3"
    for run in runs:
        journal = Journal(path, run)
        for one in shift.events:
            journal.record(one)
        journal.close()
    return path


def entries(database: Database) -> list[tuple[object, ...]]:
    """The accounts, without the numbers that each database gives benches and runs."""
    rows = database.rows(
        "SELECT b.uuid, e.number, r.name, e.in_run, e.at_ns, e.utc, e.order_number, e.serial, e.kind, e.body "
        "FROM entry e JOIN bench b ON b.id = e.bench JOIN run r ON r.id = e.run ORDER BY b.uuid, e.number"
    )
    return [tuple(row) for row in rows]


def of_bench(path: Path) -> list[tuple[object, ...]]:
    with reading(path) as database:
        return entries(SqliteDatabase(database))


def of_shop(shop: Engine) -> list[tuple[object, ...]]:
    with shop.connect() as connection:
        return entries(ShopDatabase(connection))


def audited(shop: Engine) -> Audit:
    with shop.connect() as connection:
        return audit(ShopDatabase(connection))
