"""`teachrig audit`: proves the record, or says in plain words where it does not hold."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.shop import Shop
from tests.rig.recorded import as_if_never, change


@pytest.fixture
def shop(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> Shop:
    monkeypatch.setenv("COLUMNS", "120")
    return shop


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


def cut_off_after(record: Path, number: int) -> None:
    """Take out all that was recorded after an entry, seals and lists too, so that the rest holds by itself."""
    change(record, f"DELETE FROM seal WHERE last > {number}")
    change(record, f"DELETE FROM entry WHERE number > {number}")
    as_if_never(record, "DELETE FROM run WHERE id > 1")


def last_seal(shop: Shop, record: Path) -> tuple[str, int]:
    account = shop.run_json("audit", "--data", str(record.parent))[1]["accounts"][0]
    return account["seal"], account["entries"]


def test_what_was_cut_off_at_the_end_shows_against_a_seal_or_a_copy_kept_elsewhere(
    shop: Shop, record: Path, tmp_path: Path
) -> None:
    seal, entries = last_seal(shop, record)
    copy = tmp_path / "copy.sqlite3"
    data = ("--data", str(tmp_path))
    assert shop.run("backup", str(copy), *data)[0] == 0
    code, out, _ = shop.run("audit", "--against", seal, "--against", seal[:16], "--against", str(copy), *data)
    assert (code, out.count("is there, over entries"), out.count("the same to the last seal")) == (0, 2, 1)
    first_unit = shop.run_json("unit", "QOC18-0041", *data)[1]["attempts"][0]["entry"]
    cut_off_after(record, first_unit + 90)
    code, out, _ = shop.run("audit", *data)
    assert (code, "(--against)" in out) == (0, True)
    code, told = shop.run_json("audit", "--against", seal, "--against", str(copy), *data)
    assert code == 1
    assert [one["holds"] for one in told["against"]] == [False, False]
    assert f"at {entries} there: it was cut off" in told["against"][1]["words"]
    assert shop.run("audit", "--against", last_seal(shop, record)[0], *data)[0] == 0


@pytest.mark.usefixtures("record")
def test_another_record_is_not_taken_for_a_copy(shop: Shop, tmp_path: Path) -> None:
    shop.run("run", "tipper-point-no", "--bench", "sound", "--data", str(tmp_path / "other"))
    other = tmp_path / "other" / "journal.sqlite3"
    code, out, _ = shop.run("audit", "--against", str(other), "--data", str(tmp_path))
    assert (code, "MISSING" in out, "has no account of bench" in " ".join(out.split())) == (1, True, True)
    for given in ("apples", "", "a" * 15, "a" * 10_000, "\x1b[31m\u202e"):
        code, _, err = shop.run("audit", "--against", given, "--data", str(tmp_path))
        assert (code, "allowed: at least 16 digits of a seal" in err) == (2, True)
        assert err.removesuffix("\n").isprintable()


def test_no_record_is_bad_input(shop: Shop, tmp_path: Path) -> None:
    code, out, err = shop.run("audit", "--data", str(tmp_path / "none"))
    assert (code, out) == (2, "")
    assert "no such journal" in err


@pytest.mark.parametrize(
    "words",
    [
        ("audit",),
        ("units",),
        ("run", "tipper-point-no"),
        ("correct", "5", "--person", "Maren", "--why", "mixed up"),
        ("backup", "copy.sqlite3"),
    ],
    ids=lambda words: words[0],
)
def test_a_folder_that_cannot_be_is_refused_in_one_line(shop: Shop, words: tuple[str, ...]) -> None:
    code, out, err = shop.run(*words, "--data", "a" * 10_000)
    assert (code, out) == (2, "")
    assert "no records can be kept there (File name too long); allowed: a folder" in err.splitlines()[-1]


def test_a_copy_that_cannot_be_is_refused_in_one_line(shop: Shop, tmp_path: Path) -> None:
    code, _, err = shop.run("restore", "a" * 10_000, "--data", str(tmp_path))
    assert (code, len(err) < 400, "no such journal" in err) == (2, True, True)
