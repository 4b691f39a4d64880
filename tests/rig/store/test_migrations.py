"""A store of any version that was ever released becomes one of this version, with all that it holds."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine, select

from rig.events import AirMeasured, Corrected, DocumentMade, UnitStarted, Verdict
from rig.journal import Journal, JournalError, read_journal
from rig.noting import note
from rig.records import open_records
from rig.store import generate
from rig.store.audit import audit
from rig.store.database import SqliteDatabase
from rig.store.migrating import stamp_version_1, upgrade
from rig.store.opening import open_to_write, reading
from rig.store.schema import metadata
from tests.rig.recorded import change, stamped, write
from tests.rig.sequencer.floor import Shift
from tests.rig.store.versions import later_versions

# As the program of version 1 made it.
VERSION_1 = """
CREATE TABLE entry (
    id INTEGER PRIMARY KEY, run TEXT NOT NULL, number INTEGER NOT NULL, at_ns INTEGER NOT NULL, utc TEXT NOT NULL,
    order_number TEXT NOT NULL, serial TEXT NOT NULL, kind TEXT NOT NULL, body TEXT NOT NULL, UNIQUE (run, number)
);
CREATE INDEX entry_by_serial ON entry (serial, id);
PRAGMA journal_mode = WAL;
PRAGMA application_id = 0x54524A4C;
PRAGMA user_version = 1;
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite3"


def version_1(path: Path, shift: Shift, runs: tuple[str, ...]) -> None:
    """A file of version 1 in which the events of a shift stand once for each run, one run between the other."""
    from rig.journal import _AS_JSON

    with closing(sqlite3.connect(path)) as database, database:
        database.executescript(VERSION_1)
        database.executemany(
            "INSERT INTO entry (run, number, at_ns, utc, order_number, serial, kind, body) VALUES (?,?,?,?,?,?,?,?)",
            [
                (
                    run,
                    one.number,
                    one.at_ns,
                    one.utc,
                    one.order,
                    one.serial,
                    one.event.kind,
                    _AS_JSON(one.body()),
                )
                for one in shift.events
                for run in runs
            ],
        )


def tables(path: Path) -> dict[str, list[str]]:
    """Each table, index and trigger with its parts, whatever their order."""
    with closing(sqlite3.connect(path)) as database:
        named = database.execute("SELECT name, sql FROM sqlite_schema WHERE sql IS NOT NULL")
        return {name: sorted(re.split("[,()]", "".join(sql.split()).replace('"', ""))) for name, sql in named}


def test_version_1_is_taken_over_event_by_event(path: Path, shift: Shift) -> None:
    version_1(path, shift, ("run-1", "run-2"))
    assert list(read_journal(path)) == [one for one in shift.events for _ in range(2)]
    with open_records(path) as records:
        first, second = records.attempts("QOC-1")
        assert (first.run, second.run, first.verdict) == ("run-1", "run-2", Verdict.GOOD)
        assert records.attempt(first).judged is not None
        assert records.inputs_of_order(first.order) is not None
    journal = Journal(path, "run-3")
    write(journal, 1)
    journal.close()
    assert len(list(read_journal(path))) == 2 * len(shift.events) + 1


def test_what_was_taken_over_is_sealed(path: Path, shift: Shift) -> None:
    version_1(path, shift, ("run-1",))
    open_to_write(path).close()
    with closing(sqlite3.connect(path)) as database:
        sealed = database.execute("SELECT first, last FROM seal ORDER BY last").fetchall()
    assert sealed[0][0] == 1
    assert [after[0] for after in sealed[1:]] == [before[1] + 1 for before in sealed[:-1]]
    assert sealed[-1][1] == len(shift.events)


def test_a_version_1_that_cannot_be_taken_over_stays_as_it_was(path: Path, shift: Shift) -> None:
    version_1(path, shift, ("run-1",))
    change(path, "CREATE TABLE bench (apples TEXT)")
    before = path.read_bytes()
    with pytest.raises(JournalError, match="cannot keep the record here"):
        Journal(path, "run-2")
    assert path.read_bytes() == before


def test_an_empty_version_1_has_a_bench_too(path: Path) -> None:
    with closing(sqlite3.connect(path)) as database:
        database.executescript(VERSION_1)
    Journal(path, "run-1").close()
    assert list(read_journal(path)) == []


def contents(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with closing(sqlite3.connect(path)) as database:
        return {
            table.name: sorted(database.execute(str(select(*table.columns))), key=repr)
            for table in metadata.sorted_tables
        }


def as_of_version(version: str, made: Path, path: Path) -> None:
    """What the program of a version would have left, had it done what `made` holds."""
    with closing(sqlite3.connect(path)) as database:
        database.executescript(VERSION_1)
    engine = create_engine(f"sqlite:///{path}")
    with engine.begin() as connection:
        stamp_version_1(connection)
        upgrade(connection, version)
    engine.dispose()
    with closing(sqlite3.connect(path)) as database, database:
        database.execute("ATTACH ? AS made", (str(made),))
        for table in metadata.sorted_tables:
            had = [row[1] for row in database.execute(f"PRAGMA main.table_info({table.name})")]
            columns = ", ".join(had)
            if had:
                database.execute(
                    f"INSERT INTO main.{table.name} ({columns}) SELECT {columns} FROM made.{table.name} ORDER BY 1, 2"
                )
        database.execute(f"PRAGMA user_version = {int(version)}")


@pytest.mark.parametrize("version", later_versions())
def test_a_store_of_every_later_version_is_brought_up_with_all_that_it_holds(
    version: str, tmp_path: Path, shift: Shift
) -> None:
    made, path = tmp_path / "made.sqlite3", tmp_path / "journal.sqlite3"
    journal = Journal(made, "run-1")
    for number, one in enumerate(shift.events, start=1):
        journal.record(one)
        if isinstance(one.event, UnitStarted):
            journal.record(stamped(1000 + number, one.serial, AirMeasured(19.5, 61.0, 101.3, "probe")))
    journal.close()
    paper = DocumentMade("certificate", "ab" * 32, "", "unit-QOC-1.pdf")
    corrected = Corrected(5, "", "", "Maren", "mixed up at the nest")
    note(made, "papers", [("QOC-0900", "QOC-1", paper), ("QOC-0900", "QOC-1", corrected)])
    as_of_version(version, made, path)
    with reading(path) as database:
        assert audit(SqliteDatabase(database)).broken is None
        aired = database.execute("SELECT air_c, air_humidity_percent FROM attempt").fetchall()
    assert aired == [(19.5, 61.0)] * 3
    assert tables(path) == tables(made)
    assert contents(path) == contents(made)
    Journal(path, "run-2").close()


def test_a_new_store_is_what_the_migrations_make(tmp_path: Path) -> None:
    with closing(sqlite3.connect(tmp_path / "old")) as database:
        database.executescript(VERSION_1)
    for name in ("old", "new"):
        open_to_write(tmp_path / name).close()
    assert tables(tmp_path / "old") == tables(tmp_path / "new")


def test_the_migrations_make_what_the_schema_says(path: Path) -> None:
    open_to_write(path).close()
    with create_engine(f"sqlite:///{path}").connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_the_file_that_a_new_store_is_made_from_is_the_schema() -> None:
    assert generate.FILE.read_text(encoding="utf-8") == generate.generated()
