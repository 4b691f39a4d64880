"""Readings leave as files that other programs read back, with every figure as it was recorded."""

from __future__ import annotations

import csv
from pathlib import Path

import duckdb
import pytest
from pyarrow import parquet

from rig.events import CheckDone, EdgeMeasured, Event, OutputRead, RequirementJudged, SupplyMeasured, Verdict
from rig.finding import readings as module
from rig.finding.columns import READINGS, Holds
from rig.finding.opening import open_store
from rig.finding.readings import readings
from rig.finding.wanted import Wanted
from rig.session import JOURNAL_NAME
from tests.cli.shop import Shop, opened
from tests.rig.finding.written import Batch, Done, write
from wiring.terms import Rail

EDGE = EdgeMeasured(
    "outer", "steps", 400.5, 0.6, 406.0, 0.7, 5.5, 1.0, 0.3, 0.04, 0.01, None, None, readings=9, moves=3
)
MORE: tuple[Event, ...] = (
    SupplyMeasured(0.02, None),
    OutputRead("target", 390.0, Rail.MINUS, "at L-", True),
    CheckDone("clear beam", "beam", None, False, None),
    EDGE,
    RequirementJudged(
        "operate point, outer", Verdict.GOOD, "guarded", 400.5, 0.6, "mm", 394.0, 406.0, 0.01, "=1+1 \x1b[2J"
    ),
)


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    monkeypatch.setenv("TEACHRIG_DATA", str(tmp_path))
    write(
        tmp_path / JOURNAL_NAME,
        Batch(
            "QOC-1",
            [Done("A-1", "2026-01-05T07:00:00.000Z", more=MORE), Done("A-2", "2026-01-05T07:01:00.000Z")],
        ),
        Batch("QOC-2", [Done("B-1", "2026-01-06T07:00:00.000Z", more=MORE)], customer="=SUM(A1:A9)"),
    )
    return opened(tmp_path / "home", monkeypatch, capsys)


def test_parquet_is_read_back_by_two_libraries_with_figures_types_and_descriptions(
    shop: Shop, tmp_path: Path
) -> None:
    file = tmp_path / "r.parquet"
    code, out, err = shop.run("readings", "--order", "QOC-1", "--out", str(file))
    assert (code, out) == (0, "")
    assert err.startswith("10 readings: ")
    table = parquet.read_table(file)
    assert {field.name: field.metadata[b"description"].decode() for field in table.schema} == {
        column.name: column.words for column in READINGS
    }
    rows = table.to_pylist()
    operate = next(row for row in rows if row["name"] == "outer operate point")
    assert (operate["value"], operate["expanded"], operate["unit"], operate["since_s"]) == (
        400.5,
        0.6,
        "mm",
        1.0,
    )
    assert operate["utc"].isoformat() == "2026-01-05T07:00:00+00:00"
    found = duckdb.sql(
        f"SELECT count(*), sum(value) FILTER (name = 'outer release point'), min(low), bool_and(steady) "
        f"FROM '{file}' WHERE serial = 'A-1'"
    ).fetchall()
    assert found == [(10, 406.0, 394.0, False)]


def test_csv_holds_the_same_and_no_formula(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "r.csv"
    assert shop.run("readings", "--out", str(file))[0] == 0
    with file.open(newline="") as opened_file:
        rows = list(csv.DictReader(opened_file))
    assert len(rows) == 20
    assert rows[-1]["customer"] == "'=SUM(A1:A9)"
    assert {row["read_on"] for row in rows if row["what"] == "check-done"} == {""}
    assert "\x1b" not in file.read_text()


def test_a_file_that_is_there_or_of_another_kind_is_refused(shop: Shop, tmp_path: Path) -> None:
    for name in ("r.xlsx", JOURNAL_NAME):
        code, _, err = shop.run("readings", "--out", str(tmp_path / name), "--force")
        assert (code, "allowed: a file that ends in .parquet or .csv" in err) == (2, True)
    (tmp_path / "r.parquet").touch()
    assert shop.run("readings", "--out", str(tmp_path / "r.parquet"))[0] == 2
    assert shop.run("readings", "--out", str(tmp_path / "no" / "r.parquet"))[0] == 2
    assert shop.run("readings")[0] == 2


def test_without_the_library_it_says_what_to_do(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    code, _, err = shop.run("readings", "--out", str(tmp_path / "r.parquet"))
    assert (code, "teachrig[analysis]" in err) == (2, True)


@pytest.mark.usefixtures("shop")
def test_every_kind_fills_only_documented_columns_with_what_they_hold(tmp_path: Path) -> None:
    fits = {
        Holds.TEXT: str,
        Holds.TIME: str,
        Holds.FIGURE: float,
        Holds.COUNT: int,
        Holds.FLAG: bool,
    }
    with open_store(tmp_path / JOURNAL_NAME) as store:
        rows = list(readings(store.connection, Wanted()))
    for row in rows:
        assert list(row) == [column.name for column in READINGS]
        for column in READINGS:
            assert row[column.name] is None or isinstance(row[column.name], fits[column.holds])
    assert {row["what"] for row in rows} <= set(module._SAID)
