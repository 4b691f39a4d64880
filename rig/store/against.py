"""Holds the account against what was noted of it elsewhere: so it shows, too, when entries were cut off at its end.

The seals in a store prove all but that. What proves it is a seal kept where the store is not: on a certificate, in a
copy of the record, in the shop's database.
"""

from __future__ import annotations

from dataclasses import dataclass

from rig.store.database import Database, first_row

LEAST_DIGITS = 16
"""So many hexadecimal digits of a seal tell it from every other."""

_BY_SEAL = "SELECT b.name, s.last FROM seal s JOIN bench b ON b.id = s.bench WHERE substr(s.sha256, 1, :bytes) = :begin"
_ENDS = (
    "SELECT b.uuid, b.name, (SELECT max(number) FROM entry e WHERE e.bench = b.id), s.last, s.sha256 FROM bench b "
    "LEFT JOIN seal s ON s.bench = b.id AND s.last = (SELECT max(last) FROM seal l WHERE l.bench = b.id) ORDER BY b.id"
)
_SAME_SEAL = (
    "SELECT s.sha256 FROM seal s JOIN bench b ON b.id = s.bench WHERE b.uuid = :uuid AND s.last = :last"
)


@dataclass(frozen=True, slots=True)
class Held:
    """What came of it: whether the account reaches as far as what it was held against, and the same in words."""

    against: str
    holds: bool
    words: str


def against_seal(database: Database, digits: str) -> Held:
    """Hold it against the first hexadecimal digits of a seal, at least `LEAST_DIGITS`; raises ValueError for others."""
    begin = bytes.fromhex(digits[: len(digits) // 2 * 2])
    if not LEAST_DIGITS // 2 <= len(begin) <= 32:
        raise ValueError(f"a seal has {LEAST_DIGITS} to 64 digits")
    found = first_row(database, _BY_SEAL, {"bytes": len(begin), "begin": begin})
    if found is None:
        words = "no such seal in this record: it was cut off before that, or the seal is of another record"
        return Held(f"seal {digits}", False, words)
    return Held(f"seal {digits}", True, f"is there, over entries of bench {found[0]} up to number {found[1]}")


def against_store(database: Database, other: Database, name: str, *, all_of_it: bool) -> Held:
    """Hold it against another store that has the same accounts, or was copied from it.

    Args:
        database: the one in question.
        other: a copy of it, or the shop's database.
        name: what the other one is called.
        all_of_it: whether this one has to have every account that the other one has.

    """
    own = {str(row[0]): int(row[2] or 0) for row in database.rows(_ENDS)}
    shared = 0
    for uuid, bench, last, sealed_up_to, sha256 in list(other.rows(_ENDS)):
        if uuid not in own:
            if all_of_it and last:
                return Held(name, False, f"this record has no account of bench {bench} ({uuid[:8]})")
            continue
        shared += 1
        if own[uuid] < (last or 0):
            words = f"the account of bench {bench} ends at entry {own[uuid]} here, at {last} there: it was cut off"
            return Held(name, False, words)
        seal = first_row(database, _SAME_SEAL, {"uuid": uuid, "last": sealed_up_to})
        if sealed_up_to is not None and (seal is None or bytes(seal[0]) != bytes(sha256)):
            words = f"the account of bench {bench} is another one here than there, up to entry {sealed_up_to}"
            return Held(name, False, words)
    if not shared:
        return Held(name, False, "it holds no account of this record")
    return Held(name, True, "all that it holds of this record is here, the same to the last seal")
