"""The proof of the record: any change to an entry, a seal or a list shows, with the place where it is."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select

from rig.journal import Journal, JournalError
from rig.store.audit import Audit, audit_file
from rig.store.lists import SPOKEN
from rig.store.replaying import READ_OUT
from rig.store.schema import metadata
from tests.looking import examples
from tests.rig.recorded import change
from tests.rig.sequencer.floor import Shift


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory, shift: Shift) -> bytes:
    """A store in which two runs of three units stand."""
    path = tmp_path_factory.mktemp("audit") / "journal.sqlite3"
    for run in ("run-1", "run-2"):
        journal = Journal(path, run)
        for one in shift.events:
            journal.record(one)
        journal.close()
    return path.read_bytes()


@pytest.fixture
def path(tmp_path: Path, whole: bytes) -> Path:
    path = tmp_path / "journal.sqlite3"
    path.write_bytes(whole)
    return path


def audited(path: Path) -> Audit:
    return audit_file(path)


def one(path: Path, question: str) -> tuple[object, ...]:
    with closing(sqlite3.connect(path)) as database:
        row: tuple[object, ...] = database.execute(question).fetchone()
        return row


def test_a_record_that_nobody_touched_holds_to_its_end(path: Path, shift: Shift) -> None:
    found = audited(path)
    assert found.broken is None
    (account,) = found.accounts
    assert (account.entries, account.seals, account.open) == (2 * len(shift.events), 8, 0)
    assert len(account.seal) == 64


COLUMNS = ("utc", "serial", "order_number", "kind", "body", "at_ns", "in_run")


@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(column=st.sampled_from(COLUMNS), data=st.data())
def test_one_byte_of_one_entry_and_it_is_named(
    path: Path, whole: bytes, column: str, data: st.DataObject
) -> None:
    path.write_bytes(whole)
    count = one(path, "SELECT count(*) FROM entry")[0]
    assert isinstance(count, int)
    number = data.draw(st.integers(1, count))
    before = str(one(path, f"SELECT {column} FROM entry WHERE number = {number}")[0])
    place = data.draw(st.integers(0, max(len(before) - 1, 0)))
    after = before[:place] + ("1" if before[place : place + 1] != "1" else "2") + before[place + 1 :]
    change(
        path, f"UPDATE entry SET {column} = '{after.replace(chr(39), chr(39) * 2)}' WHERE number = {number}"
    )
    broken = audited(path).broken
    assert broken is not None
    assert broken.number == number
    assert f"entry {number}" in broken.words


@pytest.mark.parametrize(
    ("deed", "words"),
    [
        ("DELETE FROM entry WHERE number = 30", "entry 30, which stood before this one, is missing"),
        (
            "UPDATE seal SET sha256 = zeroblob(32) WHERE last = (SELECT min(last) FROM seal)",
            "the seal over entries 1 to",
        ),
        ("UPDATE seal SET parts = zeroblob(4) WHERE last = (SELECT min(last) FROM seal)", "not what it was"),
        ("DELETE FROM seal WHERE last = (SELECT min(last) FROM seal)", "the seal over entries 1 to"),
        (
            "UPDATE attempt SET verdict = 'bad' WHERE serial = 'QOC-2'",
            "the list of units says verdict 'bad', but the account says 'good'",
        ),
        ("DELETE FROM attempt WHERE serial = 'QOC-3'", "the list of units does not show this as it was"),
        (
            "UPDATE attempt SET serial = 'QOC-7' WHERE serial = 'QOC-3'",
            "the list of units says serial 'QOC-7'",
        ),
        ("UPDATE attempt SET customer = 'Nobody'", "says customer 'Nobody', but the account says 'Quillmere"),
        ("UPDATE shop_order SET quantity = 2 WHERE run = 2", "the list of orders says quantity 2, but"),
        ("UPDATE run SET first = 2 WHERE id = 1", "says that run-1 began with entry 2"),
        ("INSERT INTO person VALUES (1, 'Maren', '', '')", "the list of people shows what never was"),
        ("DELETE FROM shop_order WHERE run = 2", "the list of orders does not show this as it was"),
        ("UPDATE content SET body = body || ' '", "is not what it was"),
        ("UPDATE bench SET uuid = 'another'", "the seal over entries 1 to"),
        ("UPDATE run SET name = 'other' WHERE id = 1", "entry 1 (order-started) is not what it was"),
    ],
)
def test_whatever_else_is_changed_shows_too(path: Path, deed: str, words: str) -> None:
    change(path, deed)
    broken = audited(path).broken
    assert broken is not None
    assert words in broken.words


def told(path: Path) -> list[tuple[object, ...]]:
    """All that the record says; what a bench is called and since when is not sealed."""
    unsealed = {"name", "made_utc", "forwarded"}
    rows: list[tuple[object, ...]] = []
    with closing(sqlite3.connect(path)) as database:
        for table in metadata.sorted_tables:
            columns = [one for one in table.columns if table.name != "bench" or one.name not in unsealed]
            rows += database.execute(str(select(*columns))).fetchall()
    return rows


@settings(max_examples=examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_whatever_byte_of_the_file_is_changed_it_says_so_or_says_the_same(
    path: Path, whole: bytes, data: st.DataObject
) -> None:
    place = data.draw(st.integers(0, len(whole) - 1))
    flipped = whole[place] ^ data.draw(st.integers(1, 255))
    path.write_bytes(whole[:place] + bytes([flipped]) + whole[place + 1 :])
    try:
        broken = audited(path).broken
    except JournalError:
        return
    if broken is None:
        before = path.with_name("before.sqlite3")
        before.write_bytes(whole)
        assert told(path) == told(before)


def test_every_list_has_a_name_and_is_compared() -> None:
    assert set(SPOKEN) == set(READ_OUT)


def test_the_first_of_several_breaks_is_named(path: Path) -> None:
    change(path, "UPDATE entry SET body = '{}' WHERE number IN (90, 40, 120)")
    broken = audited(path).broken
    assert broken is not None
    assert (broken.number, broken.bench) == (40, one(path, "SELECT name FROM bench")[0])
    assert broken.utc == one(path, "SELECT utc FROM entry WHERE number = 40")[0]
    assert broken.serial == one(path, "SELECT serial FROM entry WHERE number = 40")[0]


@pytest.mark.parametrize(
    "deed",
    [
        "UPDATE entry SET body = '{}'",
        "DELETE FROM entry",
        "UPDATE seal SET last = 1",
        "DELETE FROM run",
        "DELETE FROM seal",
    ],
)
def test_the_store_itself_refuses(path: Path, deed: str) -> None:
    with (
        closing(sqlite3.connect(path)) as database,
        pytest.raises(sqlite3.IntegrityError, match="a correction is a new entry"),
    ):
        database.execute(deed)


def test_a_number_cannot_be_left_out(path: Path) -> None:
    with (
        closing(sqlite3.connect(path)) as database,
        pytest.raises(sqlite3.IntegrityError, match="must follow"),
    ):
        database.execute(
            "INSERT INTO entry SELECT bench, number + 10000, run, in_run, at_ns, utc, order_number, serial, kind, body "
            "FROM entry WHERE number = 1"
        )
