"""`teachrig plan` and `--explain`: everything that a plan says, to a person and to a program."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from rig.cli.main import main
from rig.library import Library, Section
from rig.planning.compile import make_plan
from rig.planning.planned import planned
from sequences.library import shipped_orders
from tests.cli.printed import printed_formulas
from tests.cli.shop import Shop
from tests.rig.calculators import prints_as, value_of

ORDERS = sorted(shipped_orders())
NEEDS = ("cold-store-need", "filling-hall-need")
TEXT = {name: path.read_text("utf-8") for name, path in shipped_orders().items()}
MOVED = (
    "cold-store-need",
    "filling-hall-need",
    "tray-point-nc",
)  # taught elsewhere on the bench than at the machine


def sections(text: str) -> dict[str, list[str]]:
    """The lines under each heading: a heading stands behind an empty line, at the margin."""
    found: dict[str, list[str]] = {}
    for block in text.split("\n\n"):
        heading, *lines = block.splitlines()
        found[heading] = lines
    return found


def starting(found: dict[str, list[str]], words: str) -> list[str]:
    return next(lines for heading, lines in found.items() if heading.startswith(words))


@pytest.mark.parametrize("columns", ["80", "120"])
@pytest.mark.parametrize("order", ORDERS)
def test_a_plan_keeps_to_the_width_of_the_terminal(
    shop: Shop, order: str, columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    code, out, err = shop.run("plan", order, "--explain")
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= int(columns)
    assert all(line == line.rstrip() for line in out.splitlines())


@pytest.mark.parametrize("order", ORDERS)
def test_every_step_check_budget_and_warning_of_the_plan_is_told(shop: Shop, order: str) -> None:
    read, sensor_type = Library(None).read_order(order)
    rig = Library(None).read_rig("simulated")
    plan = make_plan(read, sensor_type, rig)
    out = shop.run("plan", order)[1]
    found = sections(out)
    steps = [line for line in starting(found, "teaching") if re.match(r" *\d+  ", line)]
    assert len(steps) == len(plan.steps)
    numbered = [line for line in starting(found, "checks") if re.match(r" *\d+  ", line)]
    assert len(numbered) == len(plan.checks)
    for line, check in zip(numbered, plan.checks, strict=True):
        assert ("clear" if check.position_mm is None else f"{check.position_mm:.1f}") in line
        assert re.search(rf"\b{'on' if check.expected_on else 'off'}\b", line)
        if check.proof_mm not in (None, check.position_mm):
            assert line.endswith(f"{check.proof_mm:.1f}")
    for point, budget in planned(read, sensor_type, rig, plan).budgets():
        name = {"near": "the near set point", "far": "the far set point", "only": "the set point"}.get(
            point or ""
        )
        table = "\n".join(starting(found, f"uncertainty of {name or 'the end of the range'}, at"))
        assert f"u = {budget.combined_mm:.3f} mm" in table
        assert f"U = {budget.expanded_mm:.2f} mm, k = 2.00 for 95.45 %" in table
        assert table.count("B rect, inf") + table.count("A, inf") == len(budget.rows)
    assert f"{plan.expected_s:.1f} s a unit; {read.quantity} units" in out
    said = " ".join(out.split())
    for warning in plan.warnings:
        assert " ".join(warning.replace("set point only", "set point").split()) in said
    assert "set point only" not in said


@pytest.mark.parametrize("order", ORDERS)
def test_distances_at_the_machine_are_told_where_they_differ_from_the_bench(shop: Shop, order: str) -> None:
    out = shop.run("plan", order)[1]
    assert ("machine mm" in "\n".join(starting(sections(out), "checks"))) is (order in MOVED)
    assert ("bench distance =" in out) is (order in MOVED)


@pytest.mark.parametrize("order", NEEDS)
def test_an_order_with_a_need_tells_need_and_proposal_with_reasons(shop: Shop, order: str) -> None:
    found = sections(shop.run("plan", order)[1])
    need, proposed = (
        "\n".join(found["need at the machine"]),
        " ".join(" ".join(found["proposed setting"]).split()),
    )
    assert "objects at" in need
    assert "must not be reported behind" in need
    for choice in ("mode", "output function", "set point", "tolerance"):
        assert choice in proposed
    assert "midway between" in proposed
    assert "broken wire" in proposed


def test_the_drawing_puts_everything_where_it_is(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "120")
    lines = starting(sections(shop.run("plan", "cold-store-need")[1]), "distances at the machine")
    figures, ticks, sensing, point, machine = lines[:5]
    start = ticks.index("|")
    per_mm = (figures.index("500") - start) / 500

    def at(column: int) -> float:
        return (column - start) / per_mm

    assert at(point.index("^")) == pytest.approx(462, abs=8)
    assert at(machine.index("o")) == pytest.approx(180, abs=8)
    assert at(machine.rindex("o")) == pytest.approx(420, abs=8)
    assert at(machine.index("#")) == pytest.approx(520, abs=8)
    assert at(sensing.rindex("x")) == pytest.approx(58, abs=8)
    assert at(sensing.rindex("=")) == pytest.approx(462, abs=8)


LIMITS = [
    ("set point only", "tipper-point-no", "at_mm = 400", "lowest"),
    ("set point only", "tipper-point-no", "at_mm = 400", "highest"),
    ("tolerance", "tipper-point-no", "tolerance_mm = 8", "lowest"),
    ("tolerance", "stack-window-nc", "tolerance_mm = 25", "lowest"),
    ("window", "stack-window-nc", "far_mm = 1200", "lowest"),
    ("free beside the axis at the machine", "cold-store-need", "side_wall_mm = 150", "lowest"),
    ("from axis to axis of the next unit", "cold-store-need", "neighbour_spacing_mm = 600", "lowest"),
    ("gap between two objects", "cold-store-need", "gap_mm = 250", "lowest"),
    ("object out of square", "cold-store-need", "tilt_deg = 2", "highest"),
    ("lowest supply at the machine", "cold-store-need", "lowest_v = 20.4", "lowest"),
    ("load on the output", "cold-store-need", "load_current_a = 0.01", "highest"),
    ("coldest air", "tray-point-nc", "coldest_c = 11", "lowest"),
    ("face set back in its hole", "filling-hall-need", "recess_mm = 5", "highest"),
]


@pytest.mark.parametrize(("what", "order", "line", "side"), LIMITS)
def test_a_limit_that_is_told_is_where_planning_begins_to_refuse(
    shop: Shop, what: str, order: str, line: str, side: str
) -> None:
    [limit] = [one for one in shop.run_json("plan", order)[1]["limits"] if one["what"] == what]
    key, _, given = line.partition(" = ")
    offset = 400 if what == "window" else 0  # far_mm, for the least window from near_mm = 400 on
    beyond = 0.1 if limit["unit"] == "mm" else 0.001 if limit["unit"] == "A" else 0.5
    inwards = beyond if side == "lowest" else -beyond
    assert limit["here"] + offset == float(given)
    assert limit["left"] == pytest.approx(
        min(
            limit["here"] - limit["lowest"] if limit["lowest"] is not None else 1e9,
            limit["highest"] - limit["here"] if limit["highest"] is not None else 1e9,
        )
    )
    outcomes = []
    for at in (limit[side] + offset + inwards, limit[side] + offset - inwards):
        shop.keep(Section.ORDERS, "limit", TEXT[order].replace(line, f"{key} = {at:.6f}"))
        code, _, err = shop.run("plan", "limit")
        outcomes.append((code, bool(re.search(rf"\([a-z.]*{key}\)", err))))
    # At the coldest air it is the drift that stands against it first; the key tells which limit spoke.
    assert outcomes[1] == (2, True)
    assert not outcomes[0][1]


def test_an_inverse_output_is_drawn_as_one(shop: Shop) -> None:
    assert "= object reported: output off" in shop.run("plan", "stack-window-nc")[1]
    assert "= object reported: output on" in shop.run("plan", "hopper-window-no")[1]


@pytest.mark.parametrize("order", ORDERS)
def test_json_holds_the_whole_plan_and_is_strict(shop: Shop, order: str) -> None:
    code, out, err = shop.run("plan", order, "--json", "--explain")
    assert (code, err) == (0, "")

    def no_constant(name: str) -> Any:
        raise AssertionError(name)

    data = json.loads(out, parse_constant=no_constant)
    read, sensor_type = Library(None).read_order(order)
    plan = make_plan(read, sensor_type, Library(None).read_rig("simulated"))
    assert data["order"] == read.number
    assert [step.get("position_mm") for step in data["steps"]] == [
        getattr(step, "position_mm", None) for step in plan.steps
    ]
    assert [check["position_mm"] for check in data["checks"]] == [check.position_mm for check in plan.checks]
    assert data["warnings"] == list(plan.warnings)
    assert data["grounds"].keys() >= {
        "need",
        "reasons",
        "air",
        "points",
        "echoes",
        "beam",
        "budgets",
        "risks",
    }
    assert [len(one["rows"]) > 0 for one in data["set_point_budgets"]] == [True] * max(
        1, len(plan.set_points)
    )
    assert all(limit["left"] is None or limit["left"] >= -1e-9 for limit in data["limits"])
    assert all(formula["numbers"] for chapter in data["explained"] for formula in chapter["formulas"])
    assert "explained" not in shop.run_json("plan", order)[1]


@pytest.mark.parametrize("columns", ["60", "80", "120"])
@pytest.mark.parametrize("order", ORDERS)
def test_what_is_printed_comes_out_on_another_calculator(
    shop: Shop, order: str, columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    out = shop.run("plan", order, "--explain")[1]
    printed = printed_formulas(out)
    assert len(printed) > 20
    for one in printed:
        assert prints_as(value_of(one.numbers), one.result), one
    guards = [one.result for one in printed if one.symbol == "U" and one.formula == "k * u"]
    shown = re.findall(r"expanded +U = ([\d.]+) mm", out)
    assert [f"{float(guard):.2f}" for guard in guards] == shown


def test_explanation_names_its_sources(shop: Shop) -> None:
    out = shop.run("plan", "cold-store-need", "--explain")[1]
    for source in (
        "Cramer",
        "ISO 9613-1",
        "JCGM 100",
        "JCGM 106",
        "target.placement_mm of the rig",
        "need.air",
    ):
        assert source in out, source


def refused(shop: Shop, order: str, *changes: tuple[str, str]) -> str:
    text = TEXT[order]
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    shop.keep(Section.ORDERS, "changed", text)
    code, out, err = shop.run("plan", "changed")
    assert (code, out) == (2, "")
    return err


def test_a_refusal_gives_every_reason_with_its_limit_and_what_would_do(shop: Shop) -> None:
    err = refused(shop, "tipper-point-no", ("at_mm = 400", "at_mm = 900"), ('"PNP"', '"push-pull"'))
    assert err.startswith("teachrig: order QOC-0101 cannot be done with barrel-18-rail on rig simulated\n")
    first, second, rest = re.split(
        r"\n  [12]\. |\nsensor types|\nno known", err.partition("\n")[2].join(["\n", ""])
    )[1:]
    for reason, given, key, possible in (
        (first, "push-pull", "setting.output_type", "PNP, NPN"),
        (second, "900 mm", "setting.at_mm", "792 mm or less"),
    ):
        assert re.search(rf"given +{re.escape(given)} +\({key}\)", reason)
        assert re.search(rf"possible +{re.escape(possible)}", reason)
    assert "block-rail" in rest
    assert "barrel-12-count" not in rest


def test_the_nearest_value_of_a_refusal_passes(shop: Shop) -> None:
    err = refused(shop, "tipper-point-no", ("at_mm = 400", "at_mm = 900"))
    nearest = re.search(r"possible +([\d.]+) mm", err)
    assert nearest
    text = TEXT["tipper-point-no"].replace("at_mm = 400", f"at_mm = {nearest[1]}")
    shop.keep(Section.ORDERS, "changed", text)
    assert shop.run("plan", "changed")[0] == 0


def test_a_need_that_fits_nowhere_is_told_with_all_that_is_wrong(shop: Shop) -> None:
    err = refused(
        shop,
        "cold-store-need",
        ("background_mm = 520", "background_mm = 430"),
        ("coldest_c = -2", "coldest_c = -30"),
        ("speed_m_s = 0.6", "speed_m_s = 19"),
        ("object_length_mm = 1200", "object_length_mm = 120"),
        ("load_current_a = 0.01", "load_current_a = 0.3"),
    )
    keys = set(re.findall(r"\(need\.([a-z_.]+)\)", err))
    assert keys >= {"background_mm", "air.coldest_c", "motion.speed_m_s", "supply.load_current_a"}


def test_no_type_fits_is_said_too(shop: Shop) -> None:
    err = refused(shop, "tipper-point-no", ("at_mm = 400", "at_mm = 9000"))
    assert "no known sensor type would do what the order asks for" in err


def test_types_of_ones_own_are_proposed_and_broken_ones_passed_over(shop: Shop) -> None:
    text = Section.TYPES.shipped()["barrel-18-rail"].read_text("utf-8")
    own = text.replace('"barrel-18-rail"', '"shop-18"').replace("range_mm = 800", "range_mm = 950")
    shop.keep(Section.TYPES, "shop-18", own)
    shop.keep(Section.TYPES, "aa-broken", "name = 3")
    assert "shop-18" in refused(shop, "tipper-point-no", ("at_mm = 400", "at_mm = 900"))


def test_a_refusal_of_a_need_says_what_another_type_would_be_set_to(shop: Shop) -> None:
    err = refused(
        shop,
        "cold-store-need",
        ("nearest_mm = 180", "nearest_mm = 450"),
        ("farthest_mm = 420", "farthest_mm = 900"),
        ("background_mm = 520", "background_mm = 1400"),
        ("side_wall_mm = 150\n", ""),
        ("gap_mm = 250", "gap_mm = 400"),
        ("tilt_deg = 2", ""),
        ("neighbour_spacing_mm = 600", ""),
    )
    assert "need.farthest_mm" in err
    said = " ".join(err.split())
    assert re.search(r"barrel-30-length: .* would be set to mode single-point.* set point [\d.]+ mm", said)


def test_a_refusal_for_a_program_is_data_and_words_and_exit_code_two(shop: Shop) -> None:
    shop.keep(Section.ORDERS, "far", TEXT["tipper-point-no"].replace("at_mm = 400", "at_mm = 900"))
    code, out, err = shop.run("plan", "far", "--json")
    assert code == 2
    [one] = json.loads(out)["refusals"]
    assert (one["key"], one["passes"], one["given"]) == ("setting.at_mm", 792.0, "900 mm")
    assert "cannot be done" in err
    assert {fit["sensor_type"] for fit in json.loads(out)["fits"]} >= {"barrel-30-length"}


def test_names_from_outside_are_printed_as_they_are(shop: Shop) -> None:
    hostile = "[bold]Co-op[/bold] :apple: <b> {0} \\\\ %s"
    shop.keep(Section.ORDERS, "odd", TEXT["tipper-point-no"].replace("Quillmere Orchard Co-op", hostile))
    out = " ".join(shop.run("plan", "odd")[1].split())
    assert "for [bold]Co-op[/bold] :apple: <b> {0} \\ %s: 12 x" in out


def test_a_rig_by_hand_is_planned_for(shop: Shop) -> None:
    shop.keep(
        Section.ORDERS, "coarse", TEXT["tipper-point-no"].replace("tolerance_mm = 8", "tolerance_mm = 20")
    )
    out = shop.run("plan", "coarse", "--rig", "single-nest")[1]
    assert "on rig single-nest" in out
    assert "0.577  mm" in out  # 1 mm of placement over root three


@pytest.mark.parametrize(
    "words",
    [("--explain", "--sweep", "temperature=1:2"), ("--sweep",), ("--csv",)],
)
def test_words_that_do_not_go_together_are_refused(words: tuple[str, ...]) -> None:
    with pytest.raises(SystemExit) as left:
        main(["plan", "tipper-point-no", *words])
    assert left.value.code == 2


def test_help_and_planning_load_neither_tables_nor_papers() -> None:
    """Pure planning and quick help: what draws and prints comes only with the command that needs it."""
    program = """
import importlib, pkgutil, sys
from rig.cli.main import main
for words in (["--help"], ["plan", "--help"], ["card", "--help"]):
    try: main(words)
    except SystemExit: pass
heavy = {"rich", "reportlab", "pydantic", "textual", "csv"}
assert not heavy & set(sys.modules), heavy & set(sys.modules)
import rig.planning, rig.explained
for package in (rig.planning, rig.explained):
    for one in pkgutil.iter_modules(package.__path__, package.__name__ + "."):
        importlib.import_module(one.name)
outside = {"rich", "reportlab", "textual", "sqlite3", "gpiozero", "serial", "hal"}
assert not outside & set(sys.modules), outside & set(sys.modules)
"""
    subprocess.run([sys.executable, "-c", program], check=True, stdout=subprocess.DEVNULL, timeout=60)


@pytest.mark.parametrize(
    ("sensor_type", "where"),
    [("barrel-18-plain", "in the middle of that air"), ("barrel-18-rail", "on the bench")],
)
def test_it_is_told_that_tolerance_and_drift_add_up(
    shop: Shop, tmp_path: Path, sensor_type: str, where: str
) -> None:
    order = tmp_path / "order.toml"
    order.write_text(TEXT["cold-store-need"].replace("barrel-18-plain", sensor_type), "utf-8")
    words = " ".join(starting(sections(shop.run("plan", str(order))[1]), "set points"))
    told = f"over the air: where a set point goes that is right {where}; the tolerance comes on top"
    assert told in words
