"""`teachrig chart`: deviations out of the record in charts, for each of what is asked for; so do JSON and CSV."""

from __future__ import annotations

import csv
import io
import random
from pathlib import Path

import pytest

from rig.events import Event, FigureMeasured
from rig.session import JOURNAL_NAME
from tests.cli.shop import Shop, opened
from tests.rig.finding.written import Batch, Done, write


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    monkeypatch.setenv("TEACHRIG_DATA", str(tmp_path / "data"))
    (tmp_path / "data").mkdir()
    monkeypatch.chdir(tmp_path)
    return opened(tmp_path, monkeypatch, capsys)


def figures(value_mm: float) -> list[Event]:
    return [
        FigureMeasured("deviation on the bench, outer", value_mm + 9, 0.5, "mm"),
        FigureMeasured("deviation at the machine, outer", value_mm, 0.5, "mm"),
    ]


def batch(number: str, person: str, values_mm: list[float], tolerance_mm: float = 6.0) -> Batch:
    done = [
        Done(
            f"{number}-{index:03d}",
            f"2026-03-04T{8 + index // 60:02d}:{index % 60:02d}:00.000Z",
            more=figures(one),
        )
        for index, one in enumerate(values_mm)
    ]
    return Batch(number, done, person=person, tolerance_mm=tolerance_mm)


def normal(count: int, mean: float = 0.0, seed: int = 3) -> list[float]:
    draw = random.Random(seed)
    return [draw.gauss(mean, 0.5) for _ in range(count)]


def test_a_chart_for_each_person_tells_who_is_out_of_control(shop: Shop, tmp_path: Path) -> None:
    drifting = [one + max(0, index - 15) * 0.3 for index, one in enumerate(normal(30, seed=5))]
    write(
        tmp_path / "data" / JOURNAL_NAME,
        batch("Q-1", "Maren", normal(30)),
        batch("Q-2", "Tobias", drifting),
    )
    code, told = shop.run_json("chart", "--each", "person")
    assert code == 1
    maren, tobias = told["charts"]
    assert (maren["group"], maren["in_control"], len(maren["values"])) == ("Maren", True, 30)
    assert maren["values"] == normal(30)
    assert maren["capability"]["called"] == ["Cp", "Cpk"]
    assert tobias["capability"]["called"] == ["Pp", "Ppk"]
    assert any("not in control" in one for one in tobias["capability"]["warnings"])
    assert {one["rule"] for one in tobias["signals"]} >= {"nine-one-side", "ewma-beyond-limits"}
    code, out, _ = shop.run("chart", "--each", "person")
    assert "NO, " in out
    assert "nine-one-side" in out
    assert shop.run("chart", "--person", "Maren")[0] == 0


def test_charts_are_written_to_be_signed(shop: Shop, tmp_path: Path) -> None:
    write(tmp_path / "data" / JOURNAL_NAME, batch("Q-1", "Maren", normal(12)))
    assert shop.run("chart", "--out", "papers")[0] == 0
    assert (tmp_path / "papers" / "control-charts.pdf").read_bytes().startswith(b"%PDF")
    text = (tmp_path / "papers" / "control-charts.html").read_text(encoding="utf-8")
    assert "12, worked on from 2026-03-04 to 2026-03-04" in text
    code, _, err = shop.run("chart", "--out", "papers")
    assert (code, "--force" in err) == (2, True)


def test_csv_has_a_row_for_each_value(shop: Shop, tmp_path: Path) -> None:
    write(tmp_path / "data" / JOURNAL_NAME, batch("Q-1", "", normal(12)))
    code, out, _ = shop.run("chart", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert code == 0
    assert [float(row["deviation_mm"]) for row in rows] == normal(12)
    assert {row["nest"] for row in rows} == {"A"}
    assert float(rows[3]["moving_range"]) == pytest.approx(abs(normal(12)[3] - normal(12)[2]))
    assert float(rows[0]["high_limit"]) > float(rows[0]["low_limit"])


def test_orders_of_several_tolerances_are_charted_by_shares_of_each(shop: Shop, tmp_path: Path) -> None:
    batches = [batch("Q-1", "", [0.6] * 6 + [0.3] * 6, 6.0), batch("Q-2", "", [0.2] * 6 + [0.1] * 6, 2.0)]
    write(tmp_path / "data" / JOURNAL_NAME, *batches)
    (chart,) = shop.run_json("chart")[1]["charts"]
    assert chart["unit"] == "% of the tolerance"
    assert chart["values"] == pytest.approx(([10.0] * 6 + [5.0] * 6) * 2)
    assert (chart["capability"]["low"], chart["capability"]["high"]) == (-100.0, 100.0)
    assert {one["unit"] for one in shop.run_json("chart", "--each", "order")[1]["charts"]} == {"mm"}


def test_nothing_is_said_of_nothing_and_every_rule_is_explained(shop: Shop, tmp_path: Path) -> None:
    write(tmp_path / "data" / JOURNAL_NAME, Batch("Q-1", [Done("A", "2026-03-04T08:00:00.000Z")]))
    code, out, err = shop.run("chart")
    assert (code, out) == (0, "")
    assert "nothing in the record fits" in err
    code, out, _ = shop.run("chart", "--rules")
    assert "fourteen-alternating" in out
    code, _, err = shop.run("chart", "--rule", "seven")
    assert (code, "allowed: careful, four, eight" in err) == (2, True)
    code, _, err = shop.run("chart", "--check-unit")
    assert (code, "keeps no check unit" in err) == (2, True)


def test_few_values_are_not_called_in_control(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    write(
        tmp_path / "data" / JOURNAL_NAME, batch("Q-1", "Maren", normal(12)), batch("Q-2", "Maren", normal(30))
    )
    code, out, _ = shop.run("chart", "--each", "order")
    assert code == 0
    assert [line.split("  ")[-1] for line in out.splitlines()[1:3]] == ["too few", "yes"]
    assert "12 values are too few, 20 are wanted" in " ".join(out.split())
    few, enough = shop.run_json("chart", "--each", "order")[1]["charts"]
    assert (few["too_few_to_say"], few["capability"]["called"]) == (True, ["Pp", "Ppk"])
    assert (enough["too_few_to_say"], enough["capability"]["called"]) == (False, ["Cp", "Cpk"])
