"""Adds entries to the account of a bench, with all that follows from them, inside one transaction."""

from __future__ import annotations

from collections.abc import Sequence

from rig.store.database import Database, first_row
from rig.store.projection import INSERT_ENTRY, Entry, project
from rig.store.sealing import CLOSING, seal_up_to

Row = tuple[int, int, str, str, str, str, str]
"""Number in the run, ns, UTC, order, serial, kind, body."""

_LAST_NUMBER = "SELECT coalesce(max(number), 0) FROM entry WHERE bench = :bench"
_BEGIN_RUN = (
    "INSERT INTO run (bench, name, begun_utc, first) VALUES (:bench, :name, :utc, :first) RETURNING id"
)


def last_number(database: Database, bench: int) -> int:
    """The number of a bench's last entry, 0 before the first."""
    row = first_row(database, _LAST_NUMBER, {"bench": bench})
    return 0 if row is None else int(row[0])


def begin_run(database: Database, bench: int, name: str, utc: str) -> int:
    """Enter a run, whose first entry comes next; fails where the bench has one of that name."""
    first = last_number(database, bench) + 1
    (row,) = database.rows(_BEGIN_RUN, {"bench": bench, "name": name, "utc": utc, "first": first})
    return int(row[0])


def append(database: Database, bench: int, run: int, rows: Sequence[Row]) -> None:
    """Add rows of one run to the account, and seal it wherever they close something."""
    before = last_number(database, bench)
    add([Entry(bench, number, run, *row) for number, row in enumerate(rows, before + 1)], database)


def add(entries: Sequence[Entry], database: Database) -> None:
    """Add entries whose numbers follow on, with what they change and the seals that they close."""
    database.run_many(INSERT_ENTRY, [entry.values() for entry in entries])
    for statement, values in project(entries):
        database.run(statement, values)
    for entry in entries:
        if entry.kind in CLOSING:
            seal_up_to(database, entry.bench, entry.number)
