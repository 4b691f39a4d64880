"""Copies of a store: made while a bench works, and put back without losing the one that was there."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from rig.store.audit import Audit, audit_file
from rig.store.errors import JournalError, in_words
from rig.store.holding import hold
from rig.store.joining import join
from rig.store.opening import new_identity, open_to_write, reading, transaction
from rig.store.private import private_file

# So many pages at once, then a bench that waits may write: a copy never holds it up for long.
_PAGES = 2000
_SIDE_FILES = ("-wal", "-shm")


class NotProven(JournalError):
    """The copy does not hold against its seals; `found` says where."""

    def __init__(self, path: Path, found: Audit) -> None:
        words = "" if found.broken is None else f"entry {found.broken.number}: {found.broken.words}"
        super().__init__(f"{path}: not proven, {words}; nothing was changed")
        self.found = found


@dataclass(frozen=True, slots=True)
class Restored:
    """How a copy was put back.

    Attributes:
        aside: where the record that was there before was moved to; None where there was none, or it stayed.
        added: entries that were added to it, where it stayed because a bench works with it; else None.

    """

    aside: Path | None = None
    added: int | None = None


def back_up(store: Path, copy: Path) -> Audit:
    """Write a proven copy of a store into a new file, whole or not at all; benches may go on working.

    Raises:
        JournalError: when the store cannot be read, or the copy not be written.
        NotProven: when the copy does not hold: then it is not kept.
        FileExistsError: when there is a file of this name already.

    """
    if os.path.lexists(copy):
        raise FileExistsError(f"{copy}: is there already")
    draft = copy.with_name(f"{copy.name}.part")
    try:
        _copy(store, draft)
        found = proven(draft)
        _synchronise(draft)
        os.link(draft, copy)  # never in the place of a file that has come meanwhile
        _synchronise(copy.parent)
    finally:
        _remove(draft)
    return found


def restore(store: Path, copy: Path) -> Restored:
    """Put a proven copy in the place of a store; where a bench works with that, add to it what the copy has besides.

    What is recorded from now on belongs to a bench of its own, since the old one may have recorded more than the copy
    holds, and the shop may have that already.

    Raises:
        NotProven: when the copy does not hold; nothing is changed.
        NotJoined: when a bench works with the store, and the two cannot be one record.
        JournalError: when the copy cannot be read, or the store not be written.

    """
    proven(copy)
    held = hold(store)
    try:
        return Restored(aside=_replace(store, copy)) if held.alone else Restored(added=join(store, copy))
    finally:
        held.release()


def _replace(store: Path, copy: Path) -> Path | None:
    draft = store.with_name(f"{store.name}.part")
    try:
        _copy(copy, draft)
        with closing(open_to_write(draft)) as database, transaction(database):
            new_identity(database)
        _synchronise(draft)
        aside = _move_aside(store)
        draft.rename(store)
        _synchronise(store.parent)
    finally:
        _remove(draft)
    return aside


def proven(path: Path) -> Audit:
    """Audit a store; raises NotProven if it does not hold, JournalError if it cannot be read."""
    found = audit_file(path)
    if found.broken is not None:
        raise NotProven(path, found)
    return found


def _copy(source: Path, target: Path) -> None:
    _remove(target)
    try:
        private_file(target)
        with reading(source) as database, closing(sqlite3.connect(target)) as copy:
            database.backup(copy, pages=_PAGES)
            copy.execute("PRAGMA journal_mode = DELETE")  # all in one file
    except (OSError, sqlite3.Error) as failure:
        if isinstance(failure, JournalError):
            raise
        raise JournalError(f"{target}: the copy cannot be written ({in_words(failure)})") from None


def _move_aside(store: Path) -> Path | None:
    if not store.exists():
        return None
    now = datetime.now(UTC)
    aside = store.with_name(f"{store.stem}-before-{now:%Y%m%dT%H%M%S.%f}{store.suffix}")
    for end in (*_SIDE_FILES, ""):
        part = store.with_name(store.name + end)
        if part.exists():
            part.rename(aside.with_name(aside.name + end))
    return aside


def _synchronise(path: Path) -> None:
    number = os.open(path, os.O_RDONLY)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def _remove(path: Path) -> None:
    for end in ("", *_SIDE_FILES, "-journal"):
        path.with_name(path.name + end).unlink(missing_ok=True)
