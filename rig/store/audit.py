"""Proves the account of every bench against its seals, and what is read out of it against the account.

It names the first break in plain words: which entry of which unit, when, and what is wrong. The seals prove everything
but that nothing was cut off at the end: the last seal, noted elsewhere (on a certificate, in the shop's database),
proves that too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rig.events import UnitJudged, UnitStarted, WorkCutOff
from rig.store.database import Database
from rig.store.sealing import PART_BYTES, SEALED_ROWS, first_link, seal_of

_BENCHES = "SELECT id, uuid, name FROM bench ORDER BY id"
_SEALS = "SELECT first, last, sha256, parts FROM seal WHERE bench = :bench AND last > :after ORDER BY last LIMIT 500"
_LAST = "SELECT coalesce(max(number), 0), count(*) FROM entry WHERE bench = :bench"
_ATTEMPTS = (
    "SELECT first, serial, order_number, began_utc, verdict, reason FROM attempt "
    "WHERE bench = :bench AND first >= :first AND first <= :last ORDER BY first"
)
_TOLD = (
    "SELECT e.number, e.run, e.serial, e.order_number, e.utc, e.kind, e.body FROM entry e WHERE e.bench = :bench "
    f"AND e.number >= :first AND e.number <= :last AND e.kind IN ('{UnitStarted.kind}', '{UnitJudged.kind}', "
    f"'{WorkCutOff.kind}') ORDER BY e.number"
)
_ATTEMPT_OF = (
    "SELECT verdict, reason FROM attempt WHERE bench = :bench AND run = :run AND serial = :serial "
    "AND first <= :number ORDER BY first DESC LIMIT 1"
)
_CONTENT = "SELECT sha256, kind, body FROM content"
_END = 2**62


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
        for bench, uuid, name in list(database.rows(_BENCHES)):
            accounts.append(_account(database, bench, uuid, name))
        _check_content(database)
    except _Broken as stop:
        return Audit(tuple(accounts), stop.broken)
    return Audit(tuple(accounts), None)


def _account(database: Database, bench: int, uuid: str, name: str) -> Account:
    before, at, count = first_link(uuid), 0, 0
    for first, last, sha256, parts in _seals(database, bench):
        if first != at + 1:
            raise _Broken(
                Break(name, at + 1, "", "", f"the seal over entries {at + 1} to {first - 1} is missing")
            )
        rows = list(database.rows(SEALED_ROWS, {"bench": bench, "first": first, "last": last}))
        _must_follow(name, first, last, rows)
        worked_out, worked_out_parts = seal_of(before, rows)
        if worked_out != bytes(sha256) or worked_out_parts != bytes(parts):
            raise _Broken(_named(name, rows, worked_out_parts, bytes(parts)))
        before, at, count = worked_out, last, count + 1
    last, entries = _last(database, bench)
    if last != entries:
        raise _Broken(Break(name, None, "", "", f"{last - entries} entries after number {at} are missing"))
    _check_attempts(database, bench, name)
    return Account(name, uuid, entries, count, entries - at, before.hex() if count else "")


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


def _check_attempts(database: Database, bench: int, name: str) -> None:
    """What lists and searches are read from must say what the entries say."""
    listed = iter(list_attempts(database, bench))
    for number, run, serial, order, utc, kind, body in _told(database, bench):
        where = {"bench": bench, "run": run, "serial": serial, "number": number}
        if kind == UnitStarted.kind:
            row = next(listed, None)
            if row is None or tuple(row[:4]) != (number, serial, order, utc):
                raise _Broken(
                    Break(name, number, serial, utc, "the list of units does not show this attempt as it was")
                )
        elif kind == UnitJudged.kind:
            judged = json.loads(body)
            found = next(iter(database.rows(_ATTEMPT_OF, where)), None)
            if found is not None and tuple(found) != (judged["verdict"], judged["reason"]):
                words = (
                    f"the list of units says {found[0]} ({found[1]}), but the verdict was {judged['verdict']}"
                )
                raise _Broken(Break(name, number, serial, utc, words))
    extra = next(listed, None)
    if extra is not None:
        raise _Broken(
            Break(name, extra[0], extra[1], extra[3], "the list of units shows an attempt that never was")
        )


def list_attempts(database: Database, bench: int) -> Iterator[Sequence[Any]]:
    """Every attempt of a bench in order, as the lists have them."""
    return iter(database.rows(_ATTEMPTS, {"bench": bench, "first": 0, "last": _END}))


def _told(database: Database, bench: int) -> Iterator[Sequence[Any]]:
    return iter(database.rows(_TOLD, {"bench": bench, "first": 0, "last": _END}))


def _check_content(database: Database) -> None:
    for sha256, kind, body in database.rows(_CONTENT):
        if hashlib.sha256(body.encode()).hexdigest() != sha256:
            raise _Broken(Break("", None, "", "", f"the kept {kind} {sha256[:12]} is not what it was"))
