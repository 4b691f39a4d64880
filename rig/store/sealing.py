"""The seals: each closes the account of a bench up to a verdict, and holds on to the seal before.

A seal is the SHA-256 over the 32 bytes of the seal before (of a bench's first: over the SHA-256 of its uuid), then of
every entry since then one line: a JSON array, ASCII only, without spaces, of number, run, number in the run, engine
time in ns, UTC, order, serial, kind and body, the body as the text that it is kept as.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence
from typing import Any

from rig.events import (
    CalibrationMade,
    CheckUnitGivenUp,
    CheckUnitKept,
    CheckUnitLookedAt,
    CheckUnitMeasured,
    Corrected,
    DecidedByHand,
    DocumentMade,
    LotChanged,
    LotClosed,
    LotOpened,
    LotReopened,
    OrderEnded,
    RigSignedOff,
    SelfCheckEnded,
    UnitJudged,
    WorkCutOff,
)
from rig.store.database import Database, first_row

CLOSING = frozenset(
    one.kind
    for one in (
        UnitJudged,
        OrderEnded,
        WorkCutOff,
        DocumentMade,
        Corrected,
        DecidedByHand,
        SelfCheckEnded,
        CalibrationMade,
        RigSignedOff,
        CheckUnitKept,
        CheckUnitMeasured,
        CheckUnitLookedAt,
        CheckUnitGivenUp,
        LotOpened,
        LotChanged,
        LotClosed,
        LotReopened,
    )
)
"""Kinds of entries with which the account up to there is sealed."""

SEALED_ROWS = (
    "SELECT e.number, r.name, e.in_run, e.at_ns, e.utc, e.order_number, e.serial, e.kind, e.body "
    "FROM entry e JOIN run r ON r.id = e.run "
    "WHERE e.bench = :bench AND e.number >= :first AND e.number <= :last ORDER BY e.number"
)
_LAST_SEAL = "SELECT last, sha256 FROM seal WHERE bench = :bench ORDER BY last DESC LIMIT 1"
INSERT_SEAL = (
    "INSERT INTO seal (bench, last, first, sha256, parts) VALUES (:bench, :last, :first, :sha256, :parts)"
)
PART_BYTES = 4

# Whatever else a damaged file holds in place of a number or text has a line too, another one.
_AS_LINE = json.JSONEncoder(separators=(",", ":"), default=repr).encode


def seal_of(before: bytes, rows: Iterable[Sequence[Any]]) -> tuple[bytes, bytes]:
    """The seal over some entries, each as `SEALED_ROWS` yields it, and its parts."""
    digest, parts = hashlib.sha256(before), []
    for row in rows:
        line = _AS_LINE(list(row)).encode() + b"\n"
        digest.update(line)
        parts.append(hashlib.sha256(line).digest()[:PART_BYTES])
    return digest.digest(), b"".join(parts)


def first_link(uuid: str) -> bytes:
    """What stands in for the seal before the first one of a bench."""
    return hashlib.sha256(uuid.encode()).digest()


def seal_up_to(database: Database, bench: int, last: int) -> None:
    """Seal what is not sealed yet of a bench's account, up to its entry `last`."""
    at, before = _link(database, bench)
    rows = database.rows(SEALED_ROWS, {"bench": bench, "first": at + 1, "last": last})
    seal, parts = seal_of(before, rows)
    values = {"bench": bench, "first": at + 1, "last": last, "sha256": seal, "parts": parts}
    database.run(INSERT_SEAL, values)


def _link(database: Database, bench: int) -> tuple[int, bytes]:
    found = first_row(database, _LAST_SEAL, {"bench": bench})
    if found is not None:
        return int(found[0]), bytes(found[1])
    uuid = first_row(database, "SELECT uuid FROM bench WHERE id = :bench", {"bench": bench})
    return 0, first_link("" if uuid is None else str(uuid[0]))
