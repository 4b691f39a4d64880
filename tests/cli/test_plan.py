"""`teachrig plan`, `--explain`, `--sweep` and `card`, as a technician uses them."""

from __future__ import annotations

import csv
import itertools
import math
import re
from pathlib import Path

import pypdf
import pytest
from scipy.special import j1, ndtr

from rig.library import Section
from sequences.library import shipped_orders
from tests.cli.shop import Shop, opened

NEEDS = ("cold-store-need", "filling-hall-need")


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.chdir(tmp_path)
    return opened(home, monkeypatch, capsys)


@pytest.mark.parametrize("columns", ["80", "120"])
@pytest.mark.parametrize("order", sorted(shipped_orders()))
def test_a_plan_tells_everything_within_the_width_of_the_terminal(
    shop: Shop, order: str, columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    code, out, _ = shop.run("plan", order)
    assert code == 0
    assert max(map(len, out.splitlines())) <= int(columns)
    for heading in ("teaching", "checks", "distances", "expected time", "limits"):
        assert heading in out, heading
    if order in NEEDS:
        assert "need at the machine" in out
        assert "proposed setting" in out


def test_the_cold_store_is_taught_further_out_on_the_warm_bench(shop: Shop) -> None:
    code, plan = shop.run_json("plan", "cold-store-need")
    assert code == 0
    [point] = plan["grounds"]["points"]
    assert point["bench_mm"] == pytest.approx(point["machine_mm"] * plan["grounds"]["air"]["scale"], abs=0.06)
    assert point["bench_mm"] > point["machine_mm"] + 15
    assert {row["source"] for row in plan["grounds"]["budgets"][0]["rows"]} >= {
        "placement of the target",
        "temperature, bench",
        "repeat accuracy of the unit",
    }


def einstein(theta: float, kelvin: float) -> float:
    """Share of a vibration in the heat capacity of a gas (any textbook of statistical mechanics)."""
    x = theta / kelvin
    return x**2 * math.exp(x) / (math.exp(x) - 1) ** 2


CALCULATOR = {
    "exp": math.exp,
    "sqrt": math.sqrt,
    "log10": math.log10,
    "sin": lambda angle: math.sin(math.radians(angle)),
    "cos": lambda angle: math.cos(math.radians(angle)),
    "tan": lambda angle: math.tan(math.radians(angle)),
    "Phi": lambda z: float(ndtr(z)),
    "J1": lambda x: float(j1(x)),
    "E": einstein,
    "pi": math.pi,
}


def worked_out(text: str) -> list[tuple[str, float]]:
    """Every line of figures with the result printed under it."""
    pieces: list[str] = []
    for line in text.partition("worked out, with the figures")[2].splitlines():
        if re.match(r"\s+(\w+ )?= ", line):
            pieces.append(line.partition("= ")[2])
        elif pieces and line.startswith("      ") and not re.match(r"\s+\w+ = [^=]*: ", line):
            pieces[-1] += " " + line.strip()
        else:
            pieces.append("")
    found = []
    for figures, result in itertools.pairwise(pieces):
        number = re.match(r"(-?[\d.]+(?:e-?\d+)?)(?![\w(*])", result)
        if (
            number
            and re.search(r"[*/^+-]", figures)
            and not re.search(r"\b(?:[b-z]|[a-df-z][a-z0-9]?)\b", figures)
        ):
            found.append((figures, float(number[1])))
    return found


@pytest.mark.parametrize("order", NEEDS)
def test_what_is_worked_out_comes_out_on_a_pocket_calculator(shop: Shop, order: str) -> None:
    _, out, _ = shop.run("plan", order, "--explain")
    sums = 0
    for figures, result in worked_out(out):
        try:
            value = eval(figures.replace("^", "**"), {"__builtins__": {}}, CALCULATOR)
        except (SyntaxError, NameError, TypeError):
            continue  # a formula in letters, or in words
        assert value == pytest.approx(result, rel=2e-3, abs=2e-3), figures
        sums += 1
    assert sums > 15
    for source in ("Cramer", "ISO 9613-1", "JCGM 100", "JCGM 106"):
        assert source in out, source


def test_a_refused_order_names_limit_value_and_what_would_do(shop: Shop) -> None:
    text = shipped_orders()["tipper-point-no"].read_text("utf-8").replace("at_mm = 400", "at_mm = 900")
    shop.keep(Section.ORDERS, "too-far", text)
    code, out, err = shop.run("plan", "too-far")
    assert (code, out) == (2, "")
    assert "beyond the sensing range" in err
    assert "900 mm" in err
    assert "792 mm or less" in err
    assert "barrel-30-length" in err


def test_a_sweep_is_a_table_and_a_file(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "sweep.csv"
    code, out, _ = shop.run("plan", "cold-store-need", "--sweep", "temperature=-10:40:10")
    assert code == 0
    assert "sound m/s" in out
    assert shop.run("plan", "cold-store-need", "--sweep", "temperature=-10:40:10", "--csv", str(file))[0] == 0
    rows = list(csv.DictReader(file.read_text("utf-8").splitlines()))
    assert len(rows) == 6
    assert len({tuple(row.values()) for row in rows}) == 6
    code, _, err = shop.run("plan", "cold-store-need", "--sweep", "temperature=-10:40:10", "--csv", str(file))
    assert code == 2
    assert str(file) in err


def test_a_sweep_of_what_is_not_there_says_what_is(shop: Shop) -> None:
    code, _, err = shop.run("plan", "cold-store-need", "--sweep", "moon=1:2")
    assert code == 2
    assert "temperature" in err
    assert "humidity" in err


@pytest.mark.parametrize("order", sorted(shipped_orders()))
def test_the_card_is_one_page_with_the_distances_of_the_machine(
    shop: Shop, order: str, tmp_path: Path
) -> None:
    file = tmp_path / "card.pdf"
    assert shop.run("card", order, "--out", str(file))[0] == 0
    [page] = pypdf.PdfReader(file).pages
    text = " ".join(page.extract_text().split())
    _, plan = shop.run_json("plan", order)
    for point in plan["grounds"]["points"]:
        assert f"{point['machine_mm']:g} mm" in text
    assert "safety function" in text
    assert plan["order"] in text if isinstance(plan.get("order"), str) else "Quillmere" in text


def test_a_card_stays_on_one_page_whatever_the_names(shop: Shop, tmp_path: Path) -> None:
    text = shipped_orders()["stack-window-nc"].read_text("utf-8")
    text = re.sub(r'customer = "[^"]*"', f'customer = "{"<b>&" * 20}"', text)
    shop.keep(Section.ORDERS, "long", text)
    file = tmp_path / "card.pdf"
    assert shop.run("card", "long", "--out", str(file))[0] == 0
    [page] = pypdf.PdfReader(file).pages
    assert "".join(page.extract_text().split()).count("<b>&") == 20
