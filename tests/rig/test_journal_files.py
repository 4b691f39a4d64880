"""Where the journal lies and what is found there: bad places, damaged and foreign files, other versions."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from rig.events import Stamped
from rig.journal import SCHEMA_VERSION, Journal, JournalError, read_journal
from tests.rig.recorded import change, child, numbers, write

NOBODY = 65534


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite3"


def _bad_places(tmp_path: Path) -> dict[str, Path]:
    (tmp_path / "file").write_text("a file where a folder should be", encoding="utf-8")
    return {
        "below a file": tmp_path / "file" / "journal.sqlite3",
        "a folder itself": tmp_path,
        "where nothing can be made": Path("/proc/journal.sqlite3"),
    }


_IN_A_READ_ONLY_FOLDER = """
import os, sys
from pathlib import Path
from rig.journal import Journal, JournalError, read_journal
from tests.rig.recorded import stamped

if os.geteuid() == 0:
    os.setgroups([])
    os.setgid(int(sys.argv[2]))
    os.setuid(int(sys.argv[2]))
path = Path(sys.argv[1])
print([one.number for one in read_journal(path)])
for place in (path, path.with_name("other.sqlite3")):
    try:
        Journal(place, "run-2")
    except JournalError as error:
        print(error)
"""


class TestBadPlaces:
    @pytest.mark.parametrize("place", ["below a file", "a folder itself", "where nothing can be made"])
    def test_a_place_that_takes_no_file_is_refused_in_one_line(self, tmp_path: Path, place: str) -> None:
        path = _bad_places(tmp_path)[place]
        with pytest.raises(JournalError) as refused:
            Journal(path, "run-1")
        assert str(refused.value).startswith(f"{path}: cannot keep the record here (")
        assert str(refused.value).endswith("choose another folder")
        assert "\n" not in str(refused.value)

    def test_a_read_only_folder_can_be_read_but_not_written(self) -> None:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            journal = Journal(folder / "journal.sqlite3", "run-1")
            write(journal, 1, 2)
            journal.close()
            (folder / "journal.sqlite3").chmod(0o444)
            folder.chmod(0o555)
            try:
                with child(_IN_A_READ_ONLY_FOLDER, folder / "journal.sqlite3", NOBODY) as process:
                    assert process.stdout is not None
                    read, *refused = process.stdout.read().splitlines()
            finally:
                folder.chmod(0o755)
            assert read == "[1, 2]"
            assert len(refused) == 2
            for words in refused:
                assert "cannot keep the record here" in words
            assert os.listdir(folder) == ["journal.sqlite3"]

    def test_no_such_journal(self, path: Path) -> None:
        with pytest.raises(JournalError, match="no such journal"):
            next(read_journal(path))
        assert not path.exists()


class TestBadFiles:
    @pytest.fixture
    def old(self, path: Path) -> Path:
        journal = Journal(path, "run-1")
        write(journal, *range(1, 1001))
        journal.close()
        return path

    def refused(self, path: Path, *, to_write: bool = True) -> str:
        """The words for the reader; the writer is refused as well, and the file is as it was."""
        before = path.read_bytes()
        with pytest.raises(JournalError) as reading:
            list(read_journal(path))
        if to_write:
            with pytest.raises(JournalError):
                Journal(path, "run-2")
        assert path.read_bytes() == before
        assert str(reading.value).startswith(f"{path}: ")
        return str(reading.value)

    def test_not_a_database(self, path: Path) -> None:
        path.write_bytes(b"apples, pears\n" * 1000)
        assert "damaged" in self.refused(path)

    def test_cut_off_or_overwritten_in_the_middle(self, old: Path) -> None:
        whole = old.read_bytes()
        middle = len(whole) // 3
        old.write_bytes(whole[:middle] + b"\xff" * middle + whole[2 * middle :])
        assert "damaged" in self.refused(old, to_write=False)
        old.write_bytes(whole[:middle])
        assert "damaged" in self.refused(old, to_write=False)

    @pytest.mark.parametrize(
        "change_made",
        [
            """UPDATE entry SET body = '{"number": 1' WHERE number = 500""",
            """UPDATE entry SET body = '{"number": 1}' WHERE number = 500""",
            "UPDATE entry SET kind = 'unit-sold' WHERE number = 500",
        ],
    )
    def test_an_entry_that_means_nothing_to_this_version(self, old: Path, change_made: str) -> None:
        change(old, change_made)
        read: list[Stamped] = []
        with pytest.raises(JournalError, match="damaged, or written by another version"):
            read.extend(read_journal(old))
        assert len(list(_until_refused(old))) == 499

    def test_another_version(self, old: Path) -> None:
        change(old, f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
        expected = f"journal of version {SCHEMA_VERSION + 1}; this program reads version {SCHEMA_VERSION}"
        assert self.refused(old).endswith(expected)

    def test_a_file_of_another_program(self, path: Path) -> None:
        change(path, "CREATE TABLE entry (id INTEGER PRIMARY KEY, apples TEXT)")
        assert "another program's file" in self.refused(path)

    def test_an_empty_file_becomes_a_journal(self, path: Path) -> None:
        path.touch()
        Journal(path, "run-1").close()
        assert numbers(path) == []

    def test_reading_while_another_program_writes_gives_what_was_there_at_first(self, old: Path) -> None:
        entries = read_journal(old)
        first = next(entries)
        journal = Journal(old, "run-2")
        write(journal, *range(1001, 3001), serial="QOC-2")
        journal.close()
        assert [first.number, *(one.number for one in entries)] == list(range(1, 1001))

    def test_reading_leaves_no_trace(self, old: Path) -> None:
        before = old.read_bytes()
        with closing(read_journal(old)) as entries:  # type: ignore[type-var]
            next(entries)
        list(read_journal(old))
        assert os.listdir(old.parent) == [old.name]
        assert old.read_bytes() == before


def _until_refused(path: Path) -> Iterator[Stamped]:
    try:
        yield from read_journal(path)
    except JournalError:
        return
