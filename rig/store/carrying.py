"""Carries the account of a bench from one store into another: in order, each entry once, with its seals.

The store that it goes to knows how far it has it: what was not committed there is simply carried again.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rig.store.database import Database, first_row
from rig.store.projection import INSERT_ENTRY, Entry, project
from rig.store.sealing import INSERT_SEAL

BENCHES = "SELECT id, uuid, name, made_utc FROM bench ORDER BY id"

_AT_ONCE = 500
_NEXT = (
    "SELECT e.number, e.in_run, e.at_ns, e.utc, e.order_number, e.serial, e.kind, e.body, r.name, r.begun_utc, r.first "
    "FROM entry e JOIN run r ON r.id = e.run WHERE e.bench = :bench AND e.number > :after ORDER BY e.number LIMIT :most"
)
_ENTER_RUN = (
    "INSERT INTO run (bench, name, begun_utc, first) VALUES (:bench, :name, :begun_utc, :first) "
    "ON CONFLICT (bench, name) DO NOTHING"
)
_RUN = "SELECT id FROM run WHERE bench = :bench AND name = :name"
_SEALS = (
    "SELECT last, first, sha256, parts FROM seal "
    "WHERE bench = :bench AND last > :after AND last <= :last ORDER BY last"
)
_SEAL_AT = "SELECT last, sha256 FROM seal WHERE bench = :bench AND last <= :last ORDER BY last DESC LIMIT 1"


def carry_some(source: Database, bench: int, target: Database, there: int, after: int) -> int:
    """Carry the next entries behind `after` in the transaction of the caller; returns the number of the last one.

    `bench` is its number in the source, `there` the one in the target. Nothing was left where `after` is returned.
    """
    rows = list(source.rows(_NEXT, {"bench": bench, "after": after, "most": _AT_ONCE}))
    if not rows:
        return after
    last = int(rows[-1][0])
    _enter(target, there, rows)
    names = ("last", "first", "sha256", "parts")
    sealed = source.rows(_SEALS, {"bench": bench, "after": after, "last": last})
    seals = [{"bench": there, **dict(zip(names, row, strict=True))} for row in sealed]
    if seals:
        target.run_many(INSERT_SEAL, seals)
    return last


def _enter(target: Database, bench: int, rows: Sequence[Sequence[Any]]) -> None:
    runs: dict[str, int] = {}
    entries = []
    for number, in_run, at_ns, utc, order, serial, kind, body, name, begun_utc, first in rows:
        if name not in runs:
            run = {"bench": bench, "name": name, "begun_utc": begun_utc, "first": first}
            target.run(_ENTER_RUN, run)
            ((runs[name],),) = target.rows(_RUN, run)
        entries.append(Entry(bench, number, runs[name], in_run, at_ns, utc, order, serial, kind, body))
    target.run_many(INSERT_ENTRY, [entry.values() for entry in entries])
    for statement, values in project(entries):
        target.run(statement, values)


def agree(one: Database, bench: int, other: Database, there: int, up_to: int) -> bool:
    """Whether two stores have the same account of a bench, by their last seals up to an entry."""
    here = first_row(one, _SEAL_AT, {"bench": bench, "last": up_to})
    held = first_row(other, _SEAL_AT, {"bench": there, "last": up_to})
    return not (here and held) or (here[0], bytes(here[1])) == (held[0], bytes(held[1]))
