"""A decision by hand stands beside the bench's verdict, and the latest of several is the one that stands."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from rig.events import DecidedByHand, UnitJudged, UnitStarted, Verdict
from rig.journal import Journal
from rig.store.database import SqliteDatabase
from rig.store.opening import open_to_write, transaction
from rig.store.replaying import replay
from tests.rig.recorded import stamped

_DECISIONS = "SELECT of_bench, attempt, serial, verdict, person, released_by, why, stands FROM decision ORDER BY number"


def _decided(path: Path, number: int, verdict: Verdict, why: str) -> None:
    with closing(sqlite3.connect(path)) as database:
        (uuid,) = database.execute("SELECT uuid FROM bench").fetchone()
    journal = Journal(path, f"by-hand-{number}")
    journal.record(stamped(1, event=DecidedByHand(uuid, 1, verdict, "Maren", "Tobias", why)))
    journal.close()


def _rows(path: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as database:
        return database.execute(_DECISIONS).fetchall()


def test_the_latest_decision_stands_and_the_verdict_of_the_bench_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    journal = Journal(path, "run-1")
    journal.record(stamped(1, event=UnitStarted("A", 0)))
    journal.record(stamped(2, event=UnitJudged(Verdict.UNDECIDED, "near-tolerance", "at the limit")))
    journal.close()
    _decided(path, 1, Verdict.GOOD, "seen by eye")
    _decided(path, 2, Verdict.BAD, "dropped")
    told = [
        (1, 1, "QOC-1", "good", "Maren", "Tobias", "seen by eye", 0),
        (1, 1, "QOC-1", "bad", "Maren", "Tobias", "dropped", 1),
    ]
    assert _rows(path) == told
    with closing(open_to_write(path)) as database:
        assert database.execute("SELECT first, last, verdict FROM attempt").fetchall() == [
            (1, 2, "undecided")
        ]
        with transaction(database):
            replay(SqliteDatabase(database))
    assert _rows(path) == told
