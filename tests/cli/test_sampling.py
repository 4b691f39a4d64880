"""`teachrig sampling`: plans as published, curves that can be read off, what is refused."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from rig.cli.curveplot import Curve, beside, curve_lines
from rig.sampling.plan import SinglePlan
from tests.cli.shop import Shop

TWO_POINTS = ("--good", "1:5", "--poor", "10:10")


def test_a_plan_of_the_standard_is_explained(shop: Shop) -> None:
    code, out, err = shop.run("sampling", "--lot", "1200", "--aql", "1")
    assert (code, err) == (0, "")
    words = " ".join(out.replace("\u00a0", " ").split())
    for said in (
        "test 80 of 1200 units, drawn at random: accept the lot with at most 2 bad, reject it with 3",
        "lot of 1200 at level II: code letter J; AQL 1 %, normal inspection",
        # As computed with an independent library: 0.9534 at the AQL, a limiting quality of 6.516 %.
        "a lot that is 1 % bad is accepted with a chance of 95.3 %",
        "A lot with 6.52 % bad or more is accepted at most one time in ten.",
        "tightened after 2 rejected within 5 lots",
        "The AQL is no promise for a single lot.",
        "not from the standard itself",
    ):
        assert said in words


@pytest.mark.parametrize(
    "asked",
    [
        ("--lot", "1200", "--aql", "1", "--tightened"),
        TWO_POINTS,
        (*TWO_POINTS, "--lot", "400"),
        (*TWO_POINTS, "--by", "values"),
        (*TWO_POINTS, "--by", "values-known-spread", "--lot", "400"),
        (*TWO_POINTS, "--by", "unit-by-unit"),
        (*TWO_POINTS, "--lot", "400", "--isolated"),
        ("--zero", "--poor", "5:5", "--lot", "120"),
        ("--plan", "20/1", "--lot", "12"),
        ("--plan", "52/3"),
    ],
)
@pytest.mark.parametrize("columns", ["80", "120"])
def test_everything_fits_the_terminal_and_ends_well(
    shop: Shop, asked: tuple[str, ...], columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    code, out, _ = shop.run("sampling", *asked)
    assert code == 0
    assert max(map(len, out.splitlines())) <= int(columns)
    assert "what it does not prove" in out


@pytest.mark.parametrize(("lot", "accepted"), [("10", "no bad one among them"), ("100", "at most 1 bad")])
def test_a_lot_no_larger_than_its_sample_is_judged_as_a_good_lot_would_be(
    shop: Shop, lot: str, accepted: str
) -> None:
    code, out, _ = shop.run("sampling", "--lot", lot, "--good", "1:5", "--poor", "5:10")
    assert code == 0
    assert out.startswith(f"test every unit: accept the lot with {accepted}")
    assert "asked for" not in out


def test_the_drawn_curve_is_the_worked_out_one(shop: Shop) -> None:
    _, out, _ = shop.run("sampling", "--plan", "52/3", "--lot", "10000")
    lines = out.splitlines()
    top = next(at for at, line in enumerate(lines) if line.startswith("100 % |"))
    drawn = [line.split("|")[1].ljust(70) for line in lines[top : top + 10]]
    assert lines[top + 11].endswith("20 % bad")
    for column in range(70):
        height = sum({"\u2588": 2, "\u2584": 1, " ": 0}[line[column]] for line in drawn) / 20
        exact = SinglePlan(52, 3).accepts_with(0.2 * column / 69)
        assert height == pytest.approx(exact, abs=0.026)
    # The worst outgoing quality, e-Handbook 6.2.3.2, stands at the top of its curve; all units at that of the effort.
    assert any(line.startswith("3.72 % |") and "10000 |" in line for line in lines)


def test_programs_read_the_same(shop: Shop) -> None:
    code, told = shop.run_json("sampling", *TWO_POINTS, "--lot", "400")
    assert code == 0
    # (52, 2), computed with an independent library.
    assert told["plan"] == {
        "by": "counting",
        "sample_size": 52,
        "acceptance_number": 2,
        "rejection_number": 3,
    }
    assert told["poor"]["actual_risk"] == pytest.approx(SinglePlan(52, 2).accepts_with(0.10))
    assert told["good"]["actual_risk"] == pytest.approx(1 - SinglePlan(52, 2).accepts_with(0.01))
    assert [row["accepted"] for row in told["curve"]] == sorted(
        (row["accepted"] for row in told["curve"]), reverse=True
    )
    _, told = shop.run_json("sampling", "--lot", "5000", "--aql", "1.5", "--tightened")
    assert told["standard"]["letter"] == "L"
    assert told["standard"]["severity"] == "tightened"
    assert told["standard"]["table"] == {"sample_size": 200, "acceptance_number": 5}
    _, told = shop.run_json("sampling", *TWO_POINTS, "--by", "unit-by-unit")
    assert told["plan"]["steps"][0] == {"tested": 2, "accept": None, "reject": 2}


def test_curves_go_to_a_file_for_a_spreadsheet(shop: Shop) -> None:
    code, out, err = shop.run("sampling", "--plan", "52/3", "--lot", "10000", "--csv", "curve.csv")
    assert (code, out) == (0, "")
    assert err == "101 rows: curve.csv\n"
    rows = list(csv.DictReader(io.StringIO(Path("curve.csv").read_text(encoding="utf-8"))))
    # At 10 % bad, e-Handbook 6.2.3.2: accepted .2232, AOQ .02220, 7779.73 tested.
    at_ten = next(row for row in rows if float(row["share_bad"]) == pytest.approx(0.10))
    assert float(at_ten["accepted"]) == pytest.approx(0.2232, abs=1e-4)
    assert float(at_ten["outgoing"]) == pytest.approx(0.02220, abs=1e-5)
    assert float(at_ten["inspected"]) == pytest.approx(7779.73, abs=0.01)
    assert shop.run("sampling", "--plan", "52/3", "--csv", "curve.csv")[0] == 2
    code, out, _ = shop.run("sampling", "--plan", "52/3", "--csv")
    without_lot = list(csv.DictReader(io.StringIO(out)))
    assert {(row["outgoing"], row["inspected"]) for row in without_lot} == {("", "")}


def test_one_lot_is_counted_in_whole_units(shop: Shop) -> None:
    code, out, _ = shop.run("sampling", "--zero", "--poor", "5:5", "--lot", "100", "--isolated", "--json")
    told = json.loads(out)
    assert (code, told["plan"]["sample_size"]) == (0, 45)
    assert [round(row["share_bad"] * 100, 9) for row in told["curve"]] == list(range(len(told["curve"])))


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ((), "nothing says what the plan is for"),
        (("--aql", "1"), "add --lot N"),
        (("--aql", "1.2", "--lot", "100"), "AQL 1.2 % is not in the table; allowed: 0.1, 0.15"),
        (("--aql", "1", "--lot", "1"), "a lot of 1 has no plan"),
        (("--aql", "1", "--lot", "100", "--good", "1:5"), "--aql looks a plan up"),
        (("--good", "1:5"), "two points make a plan"),
        (("--zero",), "--zero needs --poor"),
        (("--zero", "--good", "1:5", "--poor", "5:5"), "no --good"),
        (("--good", "5:5", "--poor", "1:5"), "not below the consumer's"),
        (("--good", "1:5", "--poor", "5:5", "--isolated"), "--isolated is about one lot"),
        (("--plan", "20/1", "--good", "1:5", "--poor", "5:5"), "--plan is a plan already"),
        (("--plan", "20/1", "--by", "values"), "--by values needs --good and --poor"),
        (("--plan", "20/1", "--tightened"), "--tightened belongs to --aql"),
        (("--plan", "0/0"), "a sample of 0"),
        (("--plan", "20/1", "--csv", "--json"), "both want standard output"),
        ((*TWO_POINTS, "--by", "values", "--lot", "12"), "the plan needs 21 units and the lot has 12"),
    ],
)
def test_what_makes_no_plan_is_refused_in_one_line(shop: Shop, asked: tuple[str, ...], said: str) -> None:
    code, out, err = shop.run("sampling", *asked)
    assert (code, out) == (2, "")
    assert said in err
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--plan", "twenty"), "units tested / bad allowed, as 80/2"),
        (("--good", "1"), "percent bad : percent risk, as 1:5"),
        (("--good", "1,5:5"), "percent above 0 and below 100"),
        (("--aql", "nan"), "percent above 0 and below 100"),
        (("--lot", "0"), "a whole number from 1"),
    ],
)
def test_what_is_no_number_is_refused(
    shop: Shop, asked: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as end:
        shop.run("sampling", *asked)
    assert end.value.code == 2
    assert said in capsys.readouterr().err


def test_a_terminal_without_blocks_gets_plain_signs() -> None:
    curve = Curve("title", [0.0, 0.5, 0.75, 1.0], 1.0, lambda height: f"{height:g}", ("0", "m", "1"), (1.0,))
    assert curve_lines(curve, 2, plain=True)[:4] == ["title", "  1 |  .#", "0.5 | ###", "  0 +---^"]
    assert all(line.isascii() for line in curve_lines(curve, 2, plain=True))
    assert beside(["a", "bc"], ["x", "y"], gap=1) == ["a  x", "bc y"]


def test_what_was_found_is_judged_and_said(shop: Shop) -> None:
    code, out, _ = shop.run("sampling", "--lot", "120", "--plan", "20/1", "--found", "1/20")
    assert code == 0
    assert "The lot is accepted: 1 bad of 20 tested, out of 120." in out
    assert "1 to 27 of the 120 units are bad" in out
    assert max(map(len, out.splitlines())) <= 80
    code, told = shop.run_json("sampling", "--lot", "120", "--plan", "20/1", "--found", "2/9")
    assert code == 1
    assert told["found"]["decision"] == "rejected"
    assert told["found"]["ending"] == "ended early: the lot could no longer pass"
    asked = ("--good", "1:5", "--poor", "10:10", "--lot", "1200", "--by", "unit-by-unit")
    assert shop.run("sampling", *asked, "--found", "0/25")[0] == 0
    assert shop.run("sampling", *asked, "--found", "2/2")[0] == 1


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (
            ("--plan", "20/1", "--lot", "120", "--found", "1/9"),
            "1 bad of 9 tested decides nothing yet; test on",
        ),
        (("--plan", "20/1", "--lot", "120", "--found", "1/21"), "up to the sample of 20"),
        (("--plan", "20/1", "--lot", "120", "--found", "3/2"), "3 bad of 2 tested"),
        (("--plan", "20/1", "--found", "1/20"), "add --lot N"),
        ((*TWO_POINTS, "--by", "values", "--lot", "120", "--found", "1/21"), "judged by counting"),
    ],
)
def test_what_was_found_has_to_fit_the_plan(shop: Shop, asked: tuple[str, ...], said: str) -> None:
    code, out, err = shop.run("sampling", *asked)
    assert (code, out) == (2, "")
    assert said in err
