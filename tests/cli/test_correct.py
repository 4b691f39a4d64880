"""`teachrig correct`: a correction is a new entry, and what was recorded stays."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.cli.shop import Shop, opened


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("TEACHRIG_DATA", str(tmp_path / "data"))
    shop = opened(home, monkeypatch, capsys)
    shop.run("run", "tray-point-nc", "--bench", "sound")
    return shop


def rows(tmp_path: Path, question: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(tmp_path / "data" / "journal.sqlite3")) as database:
        return database.execute(question).fetchall()


BY = ("--person", "A. Tester", "--why", "mixed up at the nest")


def test_it_names_entry_field_person_and_reason_and_leaves_the_entry(shop: Shop, tmp_path: Path) -> None:
    ((number,),) = rows(tmp_path, "SELECT min(number) FROM entry WHERE kind = 'unit-judged'")
    before = rows(tmp_path, "SELECT * FROM entry ORDER BY number")
    code, out, err = shop.run("correct", str(number), "--field", "verdict", "--right", "undecided", *BY)
    assert (code, out) == (0, "")
    assert "noted: entry" in err
    after = rows(tmp_path, "SELECT * FROM entry ORDER BY number")
    assert after[: len(before)] == before
    assert len(after) == len(before) + 1
    found = rows(tmp_path, "SELECT corrects, person, why FROM correction")
    assert found == [(number, "A. Tester", "mixed up at the nest")]
    assert shop.run("audit")[0] == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("999999", *BY), "this bench has no entry 999999; allowed: 1 to "),
        (("1", "--field", "apples", *BY), "has no field apples; allowed: customer, order"),
        (("1", "--person", " ", "--why", "so"), "needs the name of whoever makes it, and why"),
    ],
)
def test_what_can_be_none_is_refused(shop: Shop, tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    code, _, err = shop.run("correct", *words)
    assert code == 2
    assert said in err
    assert rows(tmp_path, "SELECT count(*) FROM correction") == [(0,)]
