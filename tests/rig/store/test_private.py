"""The record is nobody else's business: whatever is kept is private to its owner, whatever the umask says."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

from rig.journal import Journal, read_journal
from rig.store.copying import back_up
from tests.cli.shop import opened
from tests.rig.recorded import write


@pytest.fixture(autouse=True)
def open_umask() -> Iterator[None]:
    before = os.umask(0o022)
    yield
    os.umask(before)


def mode(path: Path) -> str:
    return oct(stat.S_IMODE(path.stat().st_mode))


def test_store_and_all_that_lies_beside_it_are_private_from_the_start(tmp_path: Path) -> None:
    path = tmp_path / "data" / "journal.sqlite3"
    journal = Journal(path, "run-1")
    write(journal, 1)
    journal.barrier().result()
    assert mode(path.parent) == "0o700"
    files = sorted(path.parent.iterdir())
    assert len(files) > 1, "the log and its index are there while it is open"
    assert {mode(file) for file in files} == {"0o600"}
    journal.close()


def test_a_store_that_was_open_to_others_is_closed_to_them_and_its_locks_hold(tmp_path: Path) -> None:
    path = tmp_path / "journal.sqlite3"
    first = Journal(path, "run-1")
    write(first, 1)
    first.barrier().result()
    path.chmod(0o644)
    second = Journal(path, "run-2")
    write(second, 1)
    write(first, 2)
    first.close()
    second.close()
    assert mode(path) == "0o600"
    assert len(list(read_journal(path))) == 3


def test_a_copy_is_as_private(tmp_path: Path) -> None:
    path, copy = tmp_path / "journal.sqlite3", tmp_path / "stick" / "copy.sqlite3"
    copy.parent.mkdir()
    journal = Journal(path, "run-1")
    write(journal, 1)
    journal.close()
    back_up(path, copy)
    assert mode(copy) == "0o600"


def test_the_folder_of_papers_is_private(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TEACHRIG_DATA", str(tmp_path / "data"))
    (tmp_path / "home").mkdir()
    shop = opened(tmp_path / "home", monkeypatch, capsys)
    shop.run("run", "tipper-point-no")
    serial = shop.run_json("units", "--limit", "1")[1]["units"][0]["serial"]
    shop.run("certificate", serial, "--out", str(tmp_path / "papers"))
    assert list((tmp_path / "papers").iterdir())
    assert mode(tmp_path / "papers") == mode(tmp_path / "data") == "0o700"
