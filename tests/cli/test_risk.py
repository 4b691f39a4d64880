"""`teachrig risk`: what it prints, plays again, keeps, refuses, and how it ends when it is stopped."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from rig.library import Section
from tests.cli.shop import Shop, opened

ROOT = Path(__file__).parents[2]
RATES = """
title = "Some store wrongly, some look alike"

[[unit_fault]]
kind = "stores-wrongly"
share = 0.3
offset_tolerances = [-3.0, 3.0]

[[unit_fault]]
kind = "wrong-kind"
share = 0.3
"""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    shop = opened(tmp_path, monkeypatch, capsys)
    shop.keep(Section.RATES, "ours", RATES)
    monkeypatch.setenv("COLUMNS", "110")
    return shop


def tried(shop: Shop, *words: str, units: int = 40) -> tuple[int, str, str]:
    return shop.run(
        "risk", "tipper-point-no", "--cores", "1", "--units", str(units), "--rates", "ours", *words
    )


@pytest.mark.parametrize("columns", [80, 100])
def test_nothing_is_wider_than_the_terminal_and_no_word_is_broken(
    shop: Shop, columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    code, out, _ = tried(shop)
    assert code == 0
    assert max(map(len, out.splitlines())) <= columns
    words = ("                  set point\n", "bad unit called good, nothing could show it  ", "undecided\n")
    assert [one for one in words if one not in out] == []


def test_worked_out_and_tried_stand_side_by_side_with_what_was_assumed(shop: Shop) -> None:
    code, out, err = tried(shop)
    assert code == 0
    assert "SIMULATED BENCHES" in err
    assert "proved by positions, rule guarded" in out
    assert "assumed: Some store wrongly, some look alike" in out
    # Figure and sign stay together at the end of a line.
    assert "stores-wrongly\u00a030\u00a0%, wrong-kind\u00a030\u00a0%" in out
    assert re.search(r"40 units tried \(seed 1\), \d+ of them bad", out)
    assert re.search(r"^a unit just outside its tolerance passes +2\.2\d %", out, re.M)
    assert "another type by its correction for the air alone" in out
    assert re.search(r"^no fault +undecided +0 of \d+ +0 % .* yes$", out, re.M)
    assert re.search(r"^wrong-kind +unseen +\d+ of \d+ .* 25 % +yes$", out, re.M)
    assert "0 of" in out.partition("conclusion")[2]


def test_what_passed_though_bad_is_listed_and_can_be_played_again(shop: Shop) -> None:
    _, out, _ = tried(shop)
    seeds = re.findall(r"^- (\d+): wrong-kind, actual barrel-18-plain; really another kind", out, re.M)
    assert seeds
    code, out, _ = tried(shop, "--replay", seeds[0])
    assert code == 0
    assert f"unit with seed {seeds[0]}" in out
    assert re.search(r"^ *\d+\.\d{3} +contact-ended +rail L\+", out, re.M)
    assert re.search(r"verdict +good: 6 check positions read", out)
    assert re.search(r"really +another kind that only differs", out)


def test_programs_read_the_same(shop: Shop) -> None:
    code, data = shop.run_json(
        "risk", "tipper-point-no", "--cores", "1", "--units", "40", "--rates", "ours", "--seed", "3"
    )
    assert code == 0
    assert data["units"] == 40
    assert data["agrees"] is True
    assert data["within_stated_risk"] is True
    assert data["assumed"]["title"] == "Some store wrongly, some look alike"
    right = data["overall"]["right"]
    assert right["bounds"][0] <= right["share"] <= right["bounds"][1]
    again = shop.run_json(
        "risk", "tipper-point-no", "--cores", "1", "--units", "40", "--rates", "ours", "--seed", "3"
    )[1]
    assert {**again, "cpu_s": 0} == {**data, "cpu_s": 0}
    seed = data["listed"][0]["seed"]
    code, played = shop.run_json("risk", "tipper-point-no", "--rates", "ours", "--replay", str(seed))
    assert played["outcome"]["defects"] == data["listed"][0]["defects"]
    assert played["bench"]["seed"] == seed
    assert {event["kind"] for event in played["events"]} >= {"contact-ended", "check-done", "unit-judged"}


def test_a_weak_rule_lets_units_escape_and_says_that_it_does(shop: Shop) -> None:
    order = Section.ORDERS.shipped()["tipper-point-no"].read_text(encoding="utf-8")
    near = RATES.partition('[[unit_fault]]\nkind = "wrong')[0].replace("0.3", "1.0")
    # Short of the tolerance's near limit by a little, or within it by a little.
    shop.keep(Section.RATES, "near", near.replace("[-3.0, 3.0]", "[-1.1, -0.9]"))
    found = {}
    for rule in ("guarded", "simple"):
        shop.keep(Section.ORDERS, rule, order.replace('rule = "guarded"', f'rule = "{rule}"'))
        words = ("risk", rule, "--cores", "1", "--units", "60", "--rates", "near")
        _, found[rule] = shop.run_json(*words)
    escaped = {rule: data["overall"]["bad unit called good"]["count"] for rule, data in found.items()}
    assert escaped["simple"] >= 3 > escaped["guarded"]
    assert found["simple"]["stated_risk"] == pytest.approx(0.5, abs=0.01)
    assert found["guarded"]["stated_risk"] == pytest.approx(0.02275, abs=1e-4)
    assert all(0 < one["beyond_mm"] < 2.0 for one in found["simple"]["listed"] if one["verdict"] == "good")


def test_a_state_file_is_gone_on_with(shop: Shop, tmp_path: Path) -> None:
    state = str(tmp_path / "kept")
    once = tried(shop, units=60)[1]
    tried(shop, "--state", state, units=50)
    twice = tried(shop, "--state", state, units=60)[1]
    assert without_times(twice) == without_times(once)


def without_times(out: str) -> str:
    return re.sub(r"- \d+ s of processor time", "", out)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--units", "0"), "given '0'; allowed: a whole number from 1"),
        (("--cores", "none"), "given 'none'"),
        (("--replay", "-1"), "given '-1'"),
        (("--replay", "x"), "given 'x'; allowed: a whole number"),
    ],
)
def test_bad_words_are_refused(words: tuple[str, ...], said: str, shop: Shop) -> None:
    with pytest.raises(SystemExit) as ended:
        shop.run("risk", "tipper-point-no", *words)
    assert ended.value.code == 2
    assert said in shop.captured.readouterr().err


def test_bad_files_are_bad_input(shop: Shop, tmp_path: Path) -> None:
    code, _, err = shop.run("risk", "tipper-point-no", "--rates", "oars")
    assert code == 2
    assert "there is no table of rates of this name, did you mean ours?" in err
    (tmp_path / "other").write_text("not a study\n")
    code, _, err = tried(shop, "--state", str(tmp_path / "other"))
    assert code == 2
    assert "is no line of a study" in err
    code, _, err = tried(shop, "--state", str(tmp_path / "nowhere" / "state"))
    assert code == 2
    assert "cannot be written (No such file or directory)" in err
    code, _, err = tried(shop, "--state", str(tmp_path))
    assert code == 2


def test_a_type_that_nobody_has_described_as_a_thing_is_refused(shop: Shop) -> None:
    barrel = Section.TYPES.shipped()["barrel-18-rail"].read_text(encoding="utf-8")
    shop.keep(Section.TYPES, "own-type", barrel.replace('"barrel-18-rail"', '"own-type"'))
    order = Section.ORDERS.shipped()["tipper-point-no"].read_text(encoding="utf-8")
    shop.keep(Section.ORDERS, "own", order.replace('"barrel-18-rail"', '"own-type"'))
    code, _, err = shop.run("risk", "own", "--units", "5")
    assert code == 2
    assert "no simulated kind is named own-type" in err
    assert "--rates" in err
    kind = Path(ROOT / "hal/simulated/kinds/barrel-18-rail.toml").read_text(encoding="utf-8")
    own = kind.replace('"barrel-18-rail"', '"own-type"')
    shop.keep(Section.RATES, "with-kind", f'title = "own kind"\n[[kind]]\n{own}')
    code, out, _ = shop.run("risk", "own", "--units", "5", "--cores", "1", "--rates", "with-kind")
    assert code == 0
    assert "5 units tried" in out


def test_an_order_that_cannot_be_done_is_refused(shop: Shop) -> None:
    code, _, err = shop.run("risk", "store-window-no", "--rig", "single-nest")
    assert code == 2
    assert "cannot be done" in err


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_ends_it_with_what_there_is(number: signal.Signals, tmp_path: Path) -> None:
    state = tmp_path / "kept"
    command = [*["risk", "tipper-point-no", "--units", "1000000", "--cores", "2", "--state"], str(state)]
    program = subprocess.Popen(
        [sys.executable, "-c", "import sys; from rig.cli.main import main; sys.exit(main())", *command],
        cwd=ROOT,
        env={**os.environ, "TEACHRIG_HOME": str(tmp_path), "COLUMNS": "100"},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    deadline_s = time.monotonic() + 60.0
    while not state.exists() or state.read_bytes().count(b"\n") < 2:
        assert time.monotonic() < deadline_s
        time.sleep(0.05)
    os.kill(program.pid, number)
    out, err = program.communicate(timeout=60)
    assert program.returncode == {signal.SIGINT: 130, signal.SIGTERM: 143}[number]
    kept = [json.loads(line)["units"] for line in state.read_text().splitlines()[1:]]
    assert f"{sum(kept)} units tried" in out
    assert f"stopped after {sum(kept)} of 1000000 units" in err
    assert "the same command goes on from here" in err
    assert "Traceback" not in err
