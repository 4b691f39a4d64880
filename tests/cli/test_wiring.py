"""`teachrig wiring`: the papers of a rig in a folder, and an exit code that says whether its values go together."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pypdf
import pytest

from rig.cli.main import main
from rig.library import Section
from tests.cli.shop import Shop
from wiring.profile import shipped_profiles

SIMULATED = shipped_profiles()["simulated"].read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def papers(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The papers of the simulated bench, made once for all who only read."""
    folder = tmp_path_factory.mktemp("rig") / "papers"
    assert main(["wiring", "simulated", "--out", str(folder)]) == 0
    return folder


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_papers_land_in_the_folder(papers: Path) -> None:
    names = {path.name for path in papers.iterdir()}
    assert names >= {"wires.csv", "terminals.csv", "pins.csv", "parts.csv", "devices.csv"}
    assert {"wiring.pdf", "01-overview.svg", "02-supplies.svg", "03-nest-1-unit.svg"} <= names


def test_the_booklet_holds_every_sheet_and_list_and_says_what_it_was_made_from(papers: Path) -> None:
    pages = [page.extract_text() for page in pypdf.PdfReader(papers / "wiring.pdf").pages]
    first = " ".join(pages[0].split())
    for words in (
        "Simulated bench, one nest, linear stage",
        "rig profile simulated",
        "qualified person",
        "PELV only",
    ):
        assert words in first
    assert "Every value of the calculation sheet is within its bounds." in first
    sheets = sorted(papers.glob("*.svg"))
    told = [re.search(r"sheet (\d+) of (\d+)", page) for page in pages]
    assert [int(found[1]) for found in told if found] == list(range(1, len(sheets) + 1))
    rest = " ".join(pages[len(sheets) + 1 :])
    for words in ("Parts", "Devices", "Header pins", "Terminals", "Wires", "Calculation sheet", "-K18:2+"):
        assert words in rest


def test_the_same_profile_makes_the_same_papers_and_another_one_another_hash(
    shop: Shop, papers: Path
) -> None:
    code, out, err = shop.run("wiring", "simulated", "--out", "again")
    assert (code, err) == (0, "")
    assert out.rstrip().endswith("again")
    for path in papers.iterdir():
        assert path.read_bytes() == (Path("again") / path.name).read_bytes()
    text = SIMULATED.replace('"simulated"', '"moved"', 1).replace('"GPIO13"', '"GPIO12"')
    shop.keep(Section.RIGS, "moved", text)
    shop.run("wiring", "moved", "--out", "moved")
    stamps = {
        re.findall(r">([0-9a-f]{12})<", (folder / "02-supplies.svg").read_text())[0]
        for folder in (papers, Path("moved"))
    }
    assert len(stamps) == 2


def test_sheets_of_an_earlier_drawing_are_pointed_out(shop: Shop) -> None:
    shop.run("wiring", "simulated", "--out", "papers")
    Path("papers/12-nest-2-coils.svg").write_text("old")
    _, _, err = shop.run("wiring", "simulated", "--out", "papers", "--force")
    assert "12-nest-2-coils.svg is of an earlier drawing" in err


def test_the_schedule_names_pins_as_the_profile_does(papers: Path) -> None:
    pins = {row["carries"]: row for row in rows(papers / "pins.csv")}
    assert (pins["GPIO26"]["pin"], pins["GPIO26"]["for"]) == ("37", "nest A: rail selector")
    wires = rows(papers / "wires.csv")
    assert any({row["from"], row["to"]} == {"A1:37", "K18:2+"} for row in wires)
    assert {row["mm2"] for row in wires if row["colour"] == "GNYE"} == {"2.5"}


def test_no_cell_is_taken_for_a_formula_by_a_spreadsheet(papers: Path) -> None:
    for path in papers.glob("*.csv"):
        for row in rows(path):
            assert not [cell for cell in row.values() if cell.startswith(("=", "+", "-", "@"))]


def test_small_currents_and_times_are_told_as_a_meter_shows_them(shop: Shop) -> None:
    out = shop.run("wiring", "single-nest", "--out", "papers")[1]
    told = [" ".join(line.split()) for line in out.splitlines()]
    assert "+ least LED current 3.516 mA at least 3 mA" in told
    assert "+ longest time from the last pulse until the coils 196.6 ms at most 200 ms" in told
    assert "+ fuse in L+ 0.5 A at most 3 A" in told


def test_a_value_out_of_bounds_is_said_and_ends_with_1(shop: Shop) -> None:
    text = SIMULATED.replace("series_resistor_ohm = 1000.0", "series_resistor_ohm = 680.0")
    shop.keep(Section.RIGS, "hot", text.replace('"simulated"', '"hot"', 1))
    code, out, err = shop.run("wiring", "hot", "--out", "papers")
    assert code == 1
    assert "x  heat in the series resistor" in out
    assert "out of bounds: heat in the series resistor meanwhile: P = (U * h)^2 / (R * (1 - e))" in err
    assert "allowed: at most 1 W (rating of the resistor)" in err
    title = pypdf.PdfReader("papers/wiring.pdf").pages[0].extract_text()
    assert "OUT OF BOUNDS: do not build it like this" in title
    assert "heat in the series resistor meanwhile: 1.079 W, allowed at most 1 W" in title


def test_as_json(shop: Shop) -> None:
    code, told = shop.run_json("wiring", "single-nest", "--out", "papers")
    assert code == 0
    assert told["profile"] == "single-nest"
    assert all(Path(name).is_file() for name in told["files"])
    first = told["calculation"][0]
    assert first["value"] == 26.4
    assert first["within"] is True
    assert first["sources"]["U"] == "rig profile"
    assert {"number", "colour", "from", "to", "carries"} == set(told["wires"][0])
    assert {pin["line"] for pin in told["pins"]} >= {"GPIO4", "GPIO17"}


def test_what_is_there_is_not_replaced_without_force(shop: Shop) -> None:
    shop.run("wiring", "simulated", "--out", "papers")
    before = Path("papers/wires.csv").read_bytes()
    Path("papers/wires.csv").write_text("mine")
    code, _, err = shop.run("wiring", "simulated", "--out", "papers")
    assert code == 2
    assert "is there already; allowed: another folder, or --force" in err
    assert Path("papers/wires.csv").read_text() == "mine"
    assert shop.run("wiring", "simulated", "--out", "papers", "--force")[0] == 0
    assert Path("papers/wires.csv").read_bytes() == before


def test_bad_input_is_told_in_one_line_each(shop: Shop) -> None:
    Path("file").write_text("")
    code, _, err = shop.run("wiring", "simulated", "--out", "file")
    assert code == 2
    assert "allowed: a folder, there or new" in err
    shop.keep(
        Section.RIGS,
        "odd",
        SIMULATED.replace('"simulated"', '"odd"', 1) + "\n[electrical]\ncoil_ohm = -5\nlamps_a = 1\n",
    )
    code, _, err = shop.run("wiring", "odd")
    assert code == 2
    assert "electrical.coil_ohm: too small (given -5); allowed: a number above 0 up to" in err
    assert "electrical.lamps_a: unknown key" in err
