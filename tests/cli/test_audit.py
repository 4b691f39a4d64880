"""`teachrig audit`: proves the record, or says in plain words where it does not hold."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.shop import Shop, opened


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("COLUMNS", "120")
    return opened(home, monkeypatch, capsys)


@pytest.fixture
def record(shop: Shop, tmp_path: Path) -> Path:
    shop.run("run", "tipper-point-no", "--bench", "sound", "--data", str(tmp_path))
    return tmp_path / "journal.sqlite3"


def test_a_record_as_the_bench_wrote_it_is_proven(shop: Shop, record: Path) -> None:
    code, out, err = shop.run("audit", "--data", str(record.parent))
    assert (code, err) == (0, "")
    assert "The record is what it was when it was sealed." in out
    code, told = shop.run_json("audit", "--data", str(record.parent))
    assert told["broken"] is None
    assert told["accounts"][0]["seals"] == 13  # twelve verdicts, and the end of the order


def test_one_byte_changed_in_the_file_by_hand_is_found_and_named(shop: Shop, record: Path) -> None:
    written = record.read_bytes()
    place = written.index(b'"verdict":"good"') + len(b'"verdict":"')
    record.write_bytes(written[:place] + b"f" + written[place + 1 :])
    code, out, _ = shop.run("audit", "--data", str(record.parent))
    assert code == 1
    assert "BROKEN: bench " in out
    assert "unit QOC" in out
    assert "is not what it was when it was sealed" in " ".join(out.split())


def test_no_record_is_bad_input(shop: Shop, tmp_path: Path) -> None:
    code, out, err = shop.run("audit", "--data", str(tmp_path / "none"))
    assert (code, out) == (2, "")
    assert "no such journal" in err
