"""`teachrig types`: what is known, what it can do, and whose file it is."""

from __future__ import annotations

import re

import pytest

from rig.library import Section
from sequences.library import load_type
from tests.cli.shop import Shop

SHIPPED = Section.TYPES.shipped()
TEXT = {name: path.read_text(encoding="utf-8") for name, path in SHIPPED.items()}


def test_list_says_of_each_type_what_it_can_do(shop: Shop) -> None:
    code, out, err = shop.run("types")
    assert (code, err) == (0, "")
    entries = {block.split(":")[0]: block for block in out.strip().split("\n\n")}
    assert entries.keys() == SHIPPED.keys()
    assert entries["barrel-18-rail"].splitlines() == [
        "barrel-18-rail: M18 barrel, 800 mm, taught by rail order",
        "  60 to 800 mm, temperature-compensated, PNP or NPN; shipped",
        "  taught by rail order: full-range NO; single-point NO/NC; window NO/NC",
    ]
    assert "not temperature-compensated" in entries["barrel-12-count"]
    assert "taught by contact count" in entries["barrel-12-count"]
    assert "push-pull" in entries["block-rail"]


def test_list_fits_an_80_by_24_terminal(shop: Shop) -> None:
    lines = shop.run("types")[1].splitlines()
    assert max(map(len, lines)) <= 80
    assert len(lines) < 24


def test_list_for_programs_agrees_with_the_files(shop: Shop) -> None:
    code, listed = shop.run_json("types")
    assert code == 0
    for one in listed:
        read = load_type(SHIPPED[one["name"]])
        assert (one["source"], one["hides_shipped"], one["problems"]) == ("shipped", False, [])
        assert one["file"] == str(SHIPPED[one["name"]])
        assert (one["blind_zone_mm"], one["range_mm"]) == (read.sensing.blind_zone_mm, read.sensing.range_mm)
        assert [(each["mode"], each["output_function"]) for each in one["teaches"]] == list(read.offered)


def test_a_file_of_ones_own_is_told_with_its_place_and_what_it_hides(shop: Shop) -> None:
    mine = shop.keep(Section.TYPES, "block-rail", TEXT["block-rail"].replace("2 m,", "own,"))
    new = shop.keep(Section.TYPES, "shop-18", TEXT["barrel-18-rail"].replace('"barrel-18-rail"', '"shop-18"'))
    code, out, err = shop.run("types")
    assert (code, err) == (0, "")
    assert f"\n  your own file {mine}, not the shipped one\n" in out
    assert re.search(f"your own file {re.escape(str(new))}$", out, re.MULTILINE)
    assert out.count("Rectangular body 120 mm, own,") == 1
    assert "Rectangular body 120 mm, 2 m" not in out
    told = {one["name"]: (one["source"], one["hides_shipped"]) for one in shop.run_json("types")[1]}
    assert told["block-rail"] == ("own", True)
    assert told["shop-18"] == ("own", False)


def test_broken_files_are_told_by_name_and_hide_no_others(shop: Shop) -> None:
    broken = shop.keep(Section.TYPES, "aa-broken", 'name = "aa-broken"\n[body')
    wrong = shop.keep(
        Section.TYPES, "block-rail", TEXT["block-rail"].replace("range_mm = 2000", "range_mm = 0")
    )
    code, out, err = shop.run("types")
    assert code == 2
    assert "aa-broken: cannot be used" in out
    assert "block-rail: cannot be used" in out
    assert "barrel-18-rail: M18 barrel" in out
    assert f"{broken}:2: is not TOML" in err
    assert f"{wrong}:" in err
    assert "sensing.range_mm: too small (given 0)" in err
    code, listed = shop.run_json("types")
    assert code == 2
    assert {one["name"] for one in listed if one["problems"]} == {"aa-broken", "block-rail"}
    assert len(listed) == len(SHIPPED) + 1


def test_one_of_many_problems_leads_to_the_rest(shop: Shop) -> None:
    shop.keep(Section.TYPES, "bare", 'name = "bare"')
    err = shop.run("types")[2]
    assert re.search(r"\.\.\. and \d+ more: teachrig types bare", err)
    code, out, err = shop.run("types", "bare")
    assert (code, out) == (2, "")
    assert "sequence: is missing" in err
    assert "sensing: is missing" in err


def test_a_type_is_told_as_a_technician_reads_it(shop: Shop) -> None:
    out = shop.run("types", "barrel-18-rail")[1]
    assert "  blind zone       up to 60 mm\n" in out
    assert "  range            up to 800 mm, on a plate of 20 x 20 mm\n" in out
    assert "soft up to 320 mm" in " ".join(out.split())
    assert "  accepted         flashing at 2 Hz\n" in out
    assert (
        "to teach window NC\n"
        "  1. target at the near end\n"
        "  2. teach wire to L+ until accepted (flashing at 2 Hz); good from 1 to 5 s\n"
        "  3. target at the far end\n"
        "  4. teach wire to L- until accepted (flashing at 2 Hz); good from 1 to 5 s\n"
    ) in out
    counted = shop.run("types", "barrel-12-count")[1]
    assert "teach wire to L- 4 times for 0.3 s, 0.4 s apart; good from 0.2 to 0.5 s" in counted
    assert "LED must show stored-4 (4 blinks) within 6 s" in counted


@pytest.mark.parametrize("name", SHIPPED)
def test_no_line_of_a_type_outgrows_80_columns_but_notes(shop: Shop, name: str) -> None:
    told = shop.run("types", name)[1].partition("\nnotes\n")[0]
    assert max(map(len, told.splitlines()[2:])) <= 80


FIGURES = [
    (name, number)
    for name in ("barrel-12-count", "barrel-18-plain", "barrel-30-length")
    for number, line in enumerate(TEXT[name].splitlines())
    if re.match(r"\w+ = [\d.-]+\s*(#|$)", line)
]


@pytest.mark.parametrize(("name", "number"), FIGURES)
def test_no_figure_of_the_file_is_kept_back(shop: Shop, name: str, number: int) -> None:
    lines = TEXT[name].splitlines()
    key, _, rest = lines[number].partition(" = ")
    figure = float(rest.split("#")[0])
    factor = 1.02 if "largest" in key or "longest" in key or "max" in key else 0.98
    lines[number] = f"{key} = {round(figure * factor, 6)}"
    path = shop.home / f"{name}.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    code, told, err = shop.run("types", str(path))
    assert code == 0, err
    path.write_text(TEXT[name], encoding="utf-8")
    assert told != shop.run("types", str(path))[1], key


def test_one_type_for_programs_is_its_whole_file(shop: Shop) -> None:
    code, told = shop.run_json("types", "block-rail")
    assert code == 0
    assert told["source"] == "shipped"
    assert told["type"] == load_type(SHIPPED["block-rail"]).model_dump(mode="json")


def test_an_unknown_type_is_told_with_those_there_are(shop: Shop) -> None:
    with_slip = shop.run("types", "blok-rail")
    assert with_slip[:2] == (2, "")
    assert "did you mean block-rail?" in with_slip[2]
