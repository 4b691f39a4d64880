"""Proves the account of every bench against its seals, and what is read out of it against the account.

It names the first break in plain words: which entry of which unit, when, and what is wrong. The seals prove everything
but that nothing was cut off at the end (`rig.store.against` does), and what a bench is called.
"""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rig.store.database import Database, SqliteDatabase
from rig.store.lists import first_difference
from rig.store.opening import reading
from rig.store.sealing import PART_BYTES, SEALED_ROWS, first_link, seal_of

_BENCHES = "SELECT id, uuid, name FROM bench ORDER BY id"
_SEALS = "SELECT first, last, sha256, parts FROM seal WHERE bench = :bench AND last > :after ORDER BY last LIMIT 500"
_LAST = "SELECT coalesce(max(number), 0), count(*) FROM entry WHERE bench = :bench"
_CONTENT = "SELECT sha256, kind, body FROM content"


@dataclass(frozen=True, slots=True)
class Break:
    """The first place at which the record does not hold; `number` is the entry, None where it is none of them."""

    bench: str
    number: int | None
    serial: str
    utc: str
    words: str


@dataclass(frozen=True, slots=True)
class Account:
    """What was gone through of one bench.

    Attributes:
        seal: the last one, in hexadecimal; empty before the first verdict.
        open: entries after it, of work that has no verdict yet.

    """

    bench: str
    uuid: str
    entries: int
    seals: int
    open: int
    seal: str


@dataclass(frozen=True, slots=True)
class Audit:
    """The outcome: `broken` None where everything holds."""

    accounts: tuple[Account, ...]
    broken: Break | None


class _Broken(Exception):
    def __init__(self, broken: Break) -> None:
        super().__init__(broken.words)
        self.broken = broken


def audit(database: Database) -> Audit:
    """Go through the whole store; nothing in it is changed."""
    accounts: list[Account] = []
    try:
        benches = list(database.rows(_BENCHES))
        for bench, uuid, name in benches:
            accounts.append(_account(database, bench, uuid, name))
        _check_content(database)
        _check_lists(database, {bench: name for bench, _, name in benches})
    except _Broken as stop:
        return Audit(tuple(accounts), stop.broken)
    return Audit(tuple(accounts), None)


def audit_file(path: Path) -> Audit:
    """Go through the store of a bench as it is now, whatever is added meanwhile, and through the pages of its file.

    Raises:
        JournalError: when it is missing, of another version, or so damaged that nothing can be read.

    """
    with reading(path) as connection:
        connection.execute("BEGIN")
        database = SqliteDatabase(connection)
        try:
            found = audit(database)
        except sqlite3.OperationalError:
            # What is no text any more is still to be compared; it is slow, and seldom needed.
            connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
            found = audit(database)
        if found.broken is None:
            (told,) = connection.execute("PRAGMA integrity_check(1)").fetchone()
            if told != "ok":
                return Audit(found.accounts, Break("", None, "", "", f"the file is damaged: {told}"))
    return found


def _account(database: Database, bench: int, uuid: str, name: str) -> Account:
    before, at, count = first_link(uuid), 0, 0
    for first, last, sha256, parts in _seals(database, bench):
        if first != at + 1:
            raise _Broken(
                Break(name, at + 1, "", "", f"the seal over entries {at + 1} to {first - 1} is missing")
            )
        with _readable(name, first):
            rows = list(database.rows(SEALED_ROWS, {"bench": bench, "first": first, "last": last}))
        _must_follow(name, first, last, rows)
        worked_out, worked_out_parts = seal_of(before, rows)
        if worked_out != bytes(sha256) or worked_out_parts != bytes(parts):
            raise _Broken(_named(name, rows, worked_out_parts, bytes(parts)))
        before, at, count = worked_out, last, count + 1
    last, entries = _last(database, bench)
    if last != entries:
        raise _Broken(Break(name, None, "", "", f"{last - entries} entries after number {at} are missing"))
    return Account(name, uuid, entries, count, entries - at, before.hex() if count else "")


@contextmanager
def _readable(name: str, number: int) -> Iterator[None]:
    """Where a page of the file cannot be read, the place is told all the same."""
    try:
        yield
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError as damage:
        words = f"what stands from entry {number} on cannot be read ({damage})"
        raise _Broken(Break(name, number, "", "", words)) from None


def _seals(database: Database, bench: int) -> Iterator[Sequence[Any]]:
    after = 0
    while part := list(database.rows(_SEALS, {"bench": bench, "after": after})):
        yield from part
        after = part[-1][1]


def _last(database: Database, bench: int) -> tuple[int, int]:
    (row,) = database.rows(_LAST, {"bench": bench})
    return int(row[0]), int(row[1])


def _must_follow(name: str, first: int, last: int, rows: Sequence[Sequence[Any]]) -> None:
    for expected, row in zip(range(first, last + 1), rows, strict=False):
        if row[0] != expected:
            raise _Broken(_at(name, row, f"entry {expected}, which stood before this one, is missing"))
    if len(rows) < last + 1 - first:
        raise _Broken(Break(name, first + len(rows), "", "", f"entry {first + len(rows)} is missing"))


def _named(name: str, rows: Sequence[Sequence[Any]], worked_out: bytes, parts: bytes) -> Break:
    for index, row in enumerate(rows):
        span = slice(index * PART_BYTES, (index + 1) * PART_BYTES)
        if worked_out[span] != parts[span]:
            return _at(name, row, f"entry {row[0]} ({row[7]}) is not what it was when it was sealed")
    first, last = rows[0][0], rows[-1][0]
    words = f"the seal over entries {first} to {last}, or the one before, is not what it was; the entries are"
    return _at(name, rows[-1], words)


def _at(name: str, row: Sequence[Any], words: str) -> Break:
    return Break(name, int(row[0]), str(row[6]), str(row[4]), words)


def _check_lists(database: Database, names: Mapping[int, str]) -> None:
    """What lists and searches are read from must say what the entries say."""
    found = first_difference(database)
    if found is not None:
        name = "" if found.bench is None else names.get(found.bench, "")
        raise _Broken(Break(name, found.number, found.serial, found.utc, found.words))


def _check_content(database: Database) -> None:
    for sha256, kind, body in database.rows(_CONTENT):
        if hashlib.sha256(body.encode("utf-8", "surrogateescape")).hexdigest() != sha256:
            raise _Broken(Break("", None, "", "", f"the kept {kind} {sha256[:12]} is not what it was"))
