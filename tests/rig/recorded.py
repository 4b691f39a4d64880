"""Events and stamps for the tests of the record."""

from __future__ import annotations

import dataclasses
import json
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from rig.events import EVENT_TYPES, Event, Stamped, StepStarted
from rig.journal import Journal, read_journal
from rig.store.database import SqliteDatabase
from rig.store.replaying import replay

any_event: st.SearchStrategy[Event] = st.sampled_from(sorted(EVENT_TYPES)).flatmap(
    lambda kind: st.builds(EVENT_TYPES[kind], **_fields_of(EVENT_TYPES[kind]))
)


# What a data file holds.
_plain = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=5,
)


def _fields_of(cls: type[Event]) -> dict[str, st.SearchStrategy[object]]:
    """Any value that a record can hold; a measured value is a finite number."""
    # Counts, numbers of entries: what a whole number of either database holds.
    whole = st.integers(-(2**31), 2**31 - 1)
    known: dict[str, st.SearchStrategy[object]] = {
        "int": whole,
        "int | None": st.none() | whole,
        "float": st.floats(allow_nan=False),
        "float | None": st.none() | st.floats(allow_nan=False),
        "dict[str, Any]": st.dictionaries(st.text(), _plain, max_size=3),
        "dict[str, list[float]]": st.dictionaries(
            st.text(), st.lists(st.floats(allow_nan=False), max_size=3), max_size=3
        ),
        "list[list[float]]": st.lists(st.lists(st.floats(allow_nan=False), max_size=2), max_size=3),
    }
    return {
        field.name: known[str(field.type)] for field in dataclasses.fields(cls) if str(field.type) in known
    }


def stamped(number: int, serial: str = "QOC-1", event: Event | None = None) -> Stamped:
    return Stamped(
        number,
        number * 1_000_000,
        "2026-01-05T07:00:00.000Z",
        "QOC-0101",
        serial,
        event or StepStarted(number, f"step {number}"),
    )


def through_json(event: Event) -> str:
    return json.dumps(dataclasses.asdict(event))


@contextmanager
def locked(path: Path) -> Iterator[None]:
    """Another program holds the file: whoever writes has to wait, as for a card that is slow."""
    with closing(sqlite3.connect(path, isolation_level=None, check_same_thread=False)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def change(path: Path, statement: str) -> None:
    """Do something to a journal behind its back, past the guards that would refuse it."""
    with closing(sqlite3.connect(path)) as other, other:
        for (guard,) in other.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'").fetchall():
            if guard not in statement and statement.startswith(("UPDATE", "DELETE", "INSERT")):
                other.execute(f"DROP TRIGGER {guard}")
        other.execute(statement)


def as_if_never(path: Path, deletion: str) -> None:
    """Take entries out, and let the store tell what it would tell without them."""
    change(path, deletion)
    with closing(sqlite3.connect(path)) as other, other:
        replay(SqliteDatabase(other))


def refuse_serial(path: Path, serial: str) -> None:
    """From now on the file takes no row of one serial, as if the disk failed there."""
    change(
        path,
        f"CREATE TRIGGER refuse BEFORE INSERT ON entry WHEN NEW.serial = '{serial}' "
        "BEGIN SELECT RAISE(ABORT, 'disk is gone'); END",
    )


def write(journal: Journal, *numbers: int, serial: str = "QOC-1") -> None:
    for number in numbers:
        journal.record(stamped(number, serial))


def numbers(path: Path, **only: Any) -> list[int]:
    return [one.number for one in read_journal(path, **only)]


def child(code: str, *arguments: object) -> subprocess.Popen[str]:
    """Another program, with the tests' own helpers at hand."""
    return subprocess.Popen(
        [sys.executable, "-c", code, *map(str, arguments)],
        cwd=Path(__file__).parents[2],
        stdout=subprocess.PIPE,
        text=True,
    )
