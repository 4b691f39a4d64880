"""Adds to a store that a bench works with the accounts that a copy holds and the store does not."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from rig.store.appending import last_number
from rig.store.carrying import BENCHES, agree, carry_some
from rig.store.database import SqliteDatabase, first_row
from rig.store.errors import JournalError, cannot_keep
from rig.store.opening import bench_of, open_to_write, reading, transaction

# Before all others: the bench that has the highest number is the one that writes here.
_ENTER_BENCH = (
    "INSERT INTO bench (id, uuid, name, made_utc) "
    "SELECT min(-1, (SELECT min(id) FROM bench) - 1), :uuid, :name, :made_utc"
)
_BENCH = "SELECT id FROM bench WHERE uuid = :uuid"


class NotJoined(JournalError):
    """The copy has another account of a bench than the store has, or more of the one that works now."""


def join(store: Path, copy: Path) -> int:
    """Add them, some entries at a time, so that the bench is hardly kept waiting; returns how many entries were added.

    The copy must be proven. What a power cut leaves undone is done by doing it again.

    Raises:
        NotJoined: when the two cannot be one record; nothing of that bench is added.
        JournalError: when the copy cannot be read, or the store not be written.

    """
    added = 0
    try:
        with reading(copy) as source, closing(open_to_write(store)) as target:
            for bench in source.execute(BENCHES).fetchall():
                added += _join_account(source, target, bench)
    except sqlite3.Error as failure:
        raise cannot_keep(store, failure) from None
    return added


def _join_account(source: sqlite3.Connection, target: sqlite3.Connection, bench: Sequence[Any]) -> int:
    number, uuid, name, made_utc = bench
    theirs, ours = SqliteDatabase(source), SqliteDatabase(target)
    known = first_row(ours, _BENCH, {"uuid": uuid})
    have, has = 0 if known is None else last_number(ours, int(known[0])), last_number(theirs, number)
    if known is not None:
        _must_agree(theirs, number, ours, int(known[0]), have, has, name)
    before = have
    while have < has:
        with transaction(target):
            there = _entered(ours, {"uuid": uuid, "name": name, "made_utc": made_utc})
            have = carry_some(theirs, number, ours, there, have)
    return max(0, have - before)


def _must_agree(
    theirs: SqliteDatabase, bench: int, ours: SqliteDatabase, there: int, have: int, has: int, name: str
) -> None:
    if not agree(theirs, bench, ours, there, min(have, has)):
        raise NotJoined(
            f"the copy has another account of bench {name} than the record; nothing of it was added"
        )
    if has > have and there == bench_of(ours.connection):
        raise NotJoined(
            f"the copy has {has} entries of bench {name}, which works now, and its record only {have}: end its work, "
            "then put the copy back; nothing of it was added"
        )


def _entered(ours: SqliteDatabase, bench: dict[str, str]) -> int:
    known = first_row(ours, _BENCH, bench)
    if known is None:
        ours.run(_ENTER_BENCH, bench)
        known = first_row(ours, _BENCH, bench)
    assert known is not None
    return int(known[0])
