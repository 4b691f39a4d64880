"""`study gauge` as its user types it: laid out, run, shown as words, JSON, CSV and paper; and what is refused."""

from __future__ import annotations

import csv
import json
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.cli.shop import Shop

SMALL = (
    "--units",
    "Q-1,Q-2",
    "--people",
    "Maren,Tobias",
    "--repeats",
    "2",
    "--seed",
    "4",
    "--number",
    "GAUGE-1",
)


def opened(shop: Shop, *more: str) -> tuple[int, str, str]:
    return shop.run("study", "gauge", "open", "spares-window-measured", *SMALL, *more)


def test_a_study_from_its_opening_to_its_paper(shop: Shop, tmp_path: Path) -> None:
    code, out, err = opened(shop)
    assert code == 0
    assert "2 units by 2 people (Maren, Tobias), 2 times each: 8 trials, drawn from seed 4" in out
    assert "next: teachrig study gauge run" in err

    code, out, err = shop.run("study", "gauge", "show")
    assert code == 1
    assert "0 of 8 trials are done; nothing is said of the rig before all are" in " ".join(out.split())

    code, data = shop.run_json("study", "gauge", "run")
    assert data["done"] == data["of"] == 8
    assert data["simulated"] is True
    assert code == (0 if data["result"]["fit"] else 1)

    code, again = shop.run_json("study", "gauge", "show", "GAUGE-1")
    assert again == data  # by the record alone, to the last digit
    assert again["departures"] == []

    folder, table = tmp_path / "papers", tmp_path / "trials.csv"
    code, out, err = shop.run("study", "gauge", "show", "--out", str(folder), "--csv", str(table))
    assert "where scatter comes from" in out
    assert {file.suffix for file in folder.iterdir()} == {".pdf", ".html"}
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [float(row["value_mm"]) for row in rows] == [one["value_mm"] for one in data["trials"]]

    code, out, err = shop.run("study", "gauge", "run")
    assert "has all its 8 values" in err

    code, out, _ = shop.run("units", "Q-1")
    assert "measured" in out
    code, _, err = shop.run("certificate", "Q-1")
    assert "gauge study of the rig, which says nothing of its setting" in err

    a_wrong_value_is_set_aside_by_name_and_measured_again(shop, data)


def a_wrong_value_is_set_aside_by_name_and_measured_again(shop: Shop, before: dict[str, Any]) -> None:
    wrong = next(one for one in before["trials"] if one["trial"] == 3)
    why = ("--by", "Maren", "--why", "the plug was loose")
    code, out, _ = shop.run("study", "gauge", "repeat", "--trial", "3", *why)
    assert code == 0
    assert f"{wrong['value_mm']:.3f} mm" in out
    code, out, _ = shop.run("study", "gauge", "show")
    assert code == 1
    assert "7 of 8 trials are done" in " ".join(out.split())
    assert "has no value" in refused(shop, "repeat", "--trial", "3", *why)
    assert "has no value" in refused(shop, "repeat", "--trial", "9", *why)
    assert "--why" in refused(shop, "repeat", "--trial", "2", "--by", "Maren", "--why", " ")

    _, after = shop.run_json("study", "gauge", "run")
    assert after["done"] == 8
    (aside,) = after["set_aside"]
    assert (aside["trial"], aside["value_mm"], aside["person"]) == (3, wrong["value_mm"], "Maren")
    assert after["departures"] == []  # the conclusion is that of the values that count now
    others = [one for one in after["trials"] if one["trial"] != 3]
    assert others == [one for one in before["trials"] if one["trial"] != 3]
    code, out, _ = shop.run("study", "gauge", "show")
    assert "by Maren: the plug was loose" in " ".join(out.split())


def refused(shop: Shop, *words: str) -> str:
    code, out, err = shop.run("study", "gauge", *words)
    assert code == 2, (out, err)
    assert "Traceback" not in err
    assert out == ""
    return err


def test_what_cannot_be_studied_is_refused_with_what_can(shop: Shop) -> None:
    assert "checks.method" in refused(shop, "open", "tipper-point-no")
    assert "named twice" in refused(shop, "open", "spares-window-measured", "--units", "Q-1,Q-1")
    assert "allowed: 2 to 10" in refused(shop, "open", "spares-window-measured", "--people", "Maren")
    assert "--units" in refused(shop, "open", "spares-window-measured", "--units", "Q 1,Q-2")
    assert "--number" in refused(shop, "open", "spares-window-measured", "--number", "G 1")
    assert "knows no gauge study" in refused(shop, "run")
    opened(shop)
    assert "GAUGE-1 is on record already" in refused(shop, "open", "spares-window-measured", *SMALL)
    assert "knows no gauge study GAUGE-9" in refused(shop, "show", "GAUGE-9")
    assert "8 trials of the study are left" in shop.run("study", "gauge", "show", "--out", ".")[2]
    few = refused(shop, "run", "--bench", "hopper-unit")
    assert "holds 1 units, the study wants 2" in few


def test_a_study_does_not_take_the_number_of_an_order(shop: Shop) -> None:
    assert shop.run("run", "tipper-point-no", "--bench", "sound")[0] == 0
    number = ("--number", "QOC-0101")
    assert "QOC-0101 is on record already" in refused(shop, "open", "spares-window-measured", *number)


def test_a_board_has_to_be_told_which_units_and_people(shop: Shop) -> None:
    assert "--units is missing" in refused(shop, "open", "spares-window-measured", "--rig", "single-nest")
    words = ("--rig", "single-nest", "--units", "Q-1,Q-2")
    assert "--people or --settings" in refused(shop, "open", "spares-window-measured", *words)


def test_another_rig_than_the_study_was_opened_with_is_refused(shop: Shop) -> None:
    opened(shop)
    assert "is not the one that study GAUGE-1 was opened with" in refused(shop, "run", "--rig", "hand-gauge")


def test_settings_of_the_rig_instead_of_people(shop: Shop) -> None:
    words = ("--units", "Q-1,Q-2", "--settings", "plate A,plate B", "--repeats", "2", "--json")
    code, out, _ = shop.run("study", "gauge", "open", "spares-window-measured", *words)
    assert code == 0
    data = json.loads(out)
    assert (data["factor"], data["levels"]) == ("setting", ["plate A", "plate B"])
    assert 0 <= data["seed"] < 2**32


@pytest.mark.slow
def test_a_study_killed_again_and_again_comes_to_all_its_values(tmp_path: Path) -> None:
    data = ("--data", str(tmp_path))
    teachrig = (sys.executable, "-c", "import sys; from rig.cli.main import main; sys.exit(main())")
    subprocess.run(
        [*teachrig, "study", "gauge", "open", "spares-window-measured", *SMALL, *data], check=True, timeout=60
    )
    draw, kills = random.Random(3), 0
    while True:
        run = subprocess.Popen([*teachrig, "study", "gauge", "run", *data, "--json"], stdout=subprocess.PIPE)
        try:
            told, _ = run.communicate(timeout=draw.uniform(1.0, 4.0) * 1.1**kills)
            break
        except subprocess.TimeoutExpired:
            run.kill()
            run.communicate()
            kills += 1
    result = json.loads(told)
    assert kills > 0
    assert (result["done"], result["departures"]) == (8, [])
    numbers = [one["trial"] for one in result["trials"]]
    assert numbers == list(range(1, 9))
