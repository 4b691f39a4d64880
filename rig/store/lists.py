"""Whether what lists and searches are read from says what the account says: it is made anew beside it, and compared."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any

from rig.store.database import Database, SqliteDatabase
from rig.store.opening import make_tables
from rig.store.projection import project
from rig.store.replaying import READ_OUT, parts

SPOKEN = {
    "attempt": "units",
    "shop_order": "orders",
    "person": "people",
    "document": "papers",
    "correction": "corrections",
    "decision": "decisions by hand",
    "lot_entry": "lots",
}
"""What each list is called in words, by its table."""

_AT_ONCE = 5000
_BEGUN = {"bench": "id, uuid, name, made_utc", "run": "id, bench, name, begun_utc, first"}
_RUNS = "SELECT id, bench, name, first, begun_utc FROM run ORDER BY id"


@dataclass(frozen=True, slots=True)
class Difference:
    """A row that is not as the account has it; `number` is the entry that it comes from, None where none is known."""

    bench: int | None
    number: int | None
    serial: str
    utc: str
    words: str


def first_difference(database: Database) -> Difference | None:
    """The first row that differs; None where the lists are what the account makes them."""
    # Without a name it lies in memory, and on the disk as far as it grows too large for that.
    with closing(sqlite3.connect("", isolation_level=None)) as beside:
        make_tables(beside)
        anew = SqliteDatabase(beside)
        _copy(database, anew)
        begun = _tell(database, anew)
        found = _of_runs(database, begun)
        for table in READ_OUT:
            found = found or _of_table(database, anew, table)
        return found


def _tell(database: Database, anew: Database) -> dict[int, tuple[int, str]]:
    """Read the account out into the lists beside it; returns with which entry each run began, and when."""
    begun: dict[int, tuple[int, str]] = {}
    for part in parts(database):
        for entry in part:
            begun.setdefault(entry.run, (entry.number, entry.utc))
        for statement, values in project(part):
            anew.run(statement, values)
    return begun


def _of_runs(database: Database, begun: Mapping[int, tuple[int, str]]) -> Difference | None:
    for run, bench, name, first, begun_utc in database.rows(_RUNS):
        if begun.get(run) != (first, begun_utc):
            words = (
                f"the list of runs says that {name} began with entry {first} at {begun_utc}, which is not so"
            )
            return Difference(bench, first, "", str(begun_utc), words)
    return None


def _copy(database: Database, anew: Database) -> None:
    for table, columns in _BEGUN.items():
        names = columns.split(", ")
        rows = [dict(zip(names, row, strict=True)) for row in database.rows(f"SELECT {columns} FROM {table}")]
        anew.run_many(f"INSERT INTO {table} ({columns}) VALUES (:{', :'.join(names)})", rows)


def _of_table(database: Database, anew: Database, table: str) -> Difference | None:
    told = list(anew.rows(f"SELECT name, pk FROM pragma_table_info('{table}') ORDER BY cid"))
    names, key = [row[0] for row in told], [row[0] for row in sorted(told, key=lambda row: row[1]) if row[1]]
    for expected, found in zip_longest(*(_rows(one, table, names, key) for one in (anew, database))):
        if expected != found:
            return _said(table, key, expected, found)
    return None


def _rows(
    database: Database, table: str, names: Sequence[str], key: Sequence[str]
) -> Iterator[dict[str, Any]]:
    """Every row in the order of its key, some at a time: a shop may have millions."""
    question = f"SELECT {', '.join(names)} FROM {table}"
    if table == "person":  # two databases need not put names into the same order
        yield from sorted((dict(zip(names, row, strict=True)) for row in database.rows(question)), key=repr)
        return
    beyond = f" WHERE ({', '.join(key)}) > ({', '.join(f':{one}' for one in key)})"
    values: dict[str, Any] = {"most": _AT_ONCE}
    order = f" ORDER BY {', '.join(key)} LIMIT :most"
    while part := list(database.rows(f"{question}{beyond if len(values) > 1 else ''}{order}", values)):
        rows = [dict(zip(names, row, strict=True)) for row in part]
        yield from rows
        values |= {one: rows[-1][one] for one in key}


def _said(
    table: str, key: Sequence[str], expected: Mapping[str, Any] | None, found: Mapping[str, Any] | None
) -> Difference:
    spoken = f"the list of {SPOKEN[table]}"
    if expected is None:
        return _at(found or {}, f"{spoken} shows what never was")
    if found is None or any(expected[one] != found[one] for one in key):
        return _at(expected, f"{spoken} does not show this as it was")
    name = next(one for one in expected if expected[one] != found[one])
    words = f"{spoken} says {name} {found[name]!r}, but the account says {expected[name]!r}"
    return _at(expected, words)


def _at(row: Mapping[str, Any], words: str) -> Difference:
    utc = next((row[one] for one in ("began_utc", "begun_utc", "utc", "first_utc") if one in row), "")
    number = row.get("first", row.get("number"))
    return Difference(
        row.get("bench"),
        number if isinstance(number, int) else None,
        str(row.get("serial", "")),
        str(utc),
        words,
    )
