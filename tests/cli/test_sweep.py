"""`teachrig plan --sweep`: where set points go, as a table, as JSON, as a file that a spreadsheet reads."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.cli.sweep import csv_text
from rig.library import Library
from rig.planning.compile import make_plan
from rig.planning.planned import Planned, planned
from rig.planning.refusal import PlanRefused
from rig.planning.sweep import MOST_POINTS, Quantity, SweepRefused, sweep_of
from rig.planning.swept import SERVES, SweepRow, sweep_table
from sequences.library import shipped_orders
from sequences.order import Order
from tests.cli.shop import Shop
from wiring.plainwords import printable

SHIPPED = Library(home=None)
RIG = SHIPPED.read_rig("simulated")


def case(name: str, change: Callable[[Order], Order] = lambda order: order) -> Planned:
    order, sensor_type = SHIPPED.read_order(name)
    order = change(order)
    return planned(order, sensor_type, RIG, make_plan(order, sensor_type, RIG))


COLD, HALL, HOPPER, TIPPER = (
    case(name) for name in ("cold-store-need", "filling-hall-need", "hopper-window-no", "tipper-point-no")
)


def cells(made: Planned, words: str, name: str, point: int = 0) -> list[float]:
    """One column of a set point."""
    table = sweep_table(made, sweep_of(words))
    at = [column.name for column in table.point].index(name)
    return [row.points[point][at] for row in table.rows]


# What is swept.


@pytest.mark.parametrize(
    ("words", "values"),
    [
        ("temperature=-10:40:10", (-10, 0, 10, 20, 30, 40)),
        ("temperature=-10:40", tuple(range(-10, 41, 5))),
        ("humidity=0:1:0.25", (0, 0.25, 0.5, 0.75, 1)),
        ("tolerance=1:2:0.3", (1, 1.3, 1.6, 1.9)),
        ("set-point=100:100", (100,)),
        ("near=0.1:0.3:0.1", (0.1, 0.2, 0.3)),
        ("altitude=-500:5000:2750", (-500, 2250, 5000)),
    ],
)
def test_a_sweep_runs_from_one_end_to_the_other(words: str, values: tuple[float, ...]) -> None:
    assert sweep_of(words).values == pytest.approx(values, abs=1e-9)


@given(
    st.sampled_from(["temperature", "humidity"]),
    st.integers(0, 5000),
    st.integers(0, 2000),
    st.integers(1, 999),
)
def test_steps_are_even_and_keep_to_the_ends(name: str, start: int, length: int, step: int) -> None:
    words = f"{name}={start / 100}:{min(70.0, (start + length) / 100)}:{step / 100}"
    values = sweep_of(words).values
    assert values[0] == start / 100
    assert (
        min(70.0, (start + length) / 100) - step / 100
        < values[-1]
        <= min(70.0, (start + length) / 100) + 1e-9
    )
    assert all(after - before == pytest.approx(step / 100) for before, after in pairwise(values))


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ("temperature", "QUANTITY=FROM:TO"),
        ("temperature=1", "QUANTITY=FROM:TO"),
        ("temperature=nan:2", "QUANTITY=FROM:TO"),
        ("temperature=1e3:2e3", "QUANTITY=FROM:TO"),
        ("temperature=1:2:3:4", "QUANTITY=FROM:TO"),
        ("temperature=\u0661:\u0662", "QUANTITY=FROM:TO"),
        ("moon=1:2", "temperature, humidity, pressure, altitude, set-point, near, far, tolerance"),
        ("temperature=2:1", "falls"),
        ("temperature=-50:1", "-40 to 70"),
        ("humidity=0:101", "0 to 100"),
        ("pressure=10:100", "50 to 110"),
        ("altitude=0:9000", "-500 to 5000"),
        ("tolerance=0:1", "0.1 to 20000"),
        ("temperature=1:2:0", "a step above 0"),
        ("temperature=1:2:-1", "a step above 0"),
        ("temperature=0:1:0.00001", "a step of 0.0001"),
    ],
)
def test_what_cannot_be_swept_is_refused_with_what_can(words: str, complaint: str) -> None:
    with pytest.raises(SweepRefused, match=re.escape(complaint)):
        sweep_of(words)


def test_as_many_values_as_are_allowed_can_be_had() -> None:
    least = 1 / (MOST_POINTS - 1)
    assert len(sweep_of(f"temperature=0:1:{least + 1e-6:.6f}").values) <= MOST_POINTS


@pytest.mark.parametrize("quantity", [Quantity.NEAR, Quantity.FAR])
def test_set_points_that_the_mode_lacks_are_refused_with_those_it_has(quantity: Quantity) -> None:
    with pytest.raises(SweepRefused, match=r"single-point has no such set point.*set-point, tolerance"):
        sweep_table(TIPPER, sweep_of(f"{quantity}=100:200"))
    with pytest.raises(SweepRefused, match="near, far, tolerance"):
        sweep_table(HOPPER, sweep_of("set-point=100:200"))


def test_a_full_range_has_nothing_to_sweep() -> None:
    with pytest.raises(SweepRefused, match="no set point"):
        sweep_table(case("infeed-full-range"), sweep_of("temperature=0:30"))


# In another air.


@pytest.mark.parametrize("made", [COLD, HALL], ids=["cold store", "filling hall"])
def test_in_the_middle_of_its_air_everything_is_as_planned(made: Planned) -> None:
    middle_c = made.case.conditions.machine.temperature_c
    words = f"temperature={middle_c:g}:{middle_c:g}"
    [planned_point] = made.plan.grounds.points
    assert cells(made, words, "mm") == [pytest.approx(planned_point.machine_mm)]
    assert cells(made, words, "bench_mm") == [planned_point.bench_mm]
    assert sweep_table(made, sweep_of(words)).rows[0].serves == SERVES


def test_set_points_that_follow_an_echo_time_go_with_the_speed_of_sound() -> None:
    """Dry air as an ideal gas, 331.3 m/s times the root of T/273.15 (any textbook), is near enough below 10 \u00b0C."""
    words = "temperature=-10:10:1"
    sound = [331.3 * (1 + celsius / 273.15) ** 0.5 for celsius in sweep_of(words).values]
    goes = cells(COLD, words, "mm")
    middle = sound[12]  # 2 degrees
    assert goes == pytest.approx([462 * speed / middle for speed in sound], rel=1e-3)
    benches = cells(COLD, words, "bench_mm")
    assert benches == sorted(benches, reverse=True)
    assert [bench * at for bench, at in zip(benches, goes, strict=True)] == pytest.approx(
        [462 * 479.9] * 21, rel=2e-4
    )
    assert cells(COLD, words, "moved_mm") == pytest.approx([at - 462 for at in goes])


def test_a_unit_that_corrects_for_the_air_stays_but_gets_less_sure() -> None:
    words = "temperature=-17:63:10"
    assert cells(HOPPER, words, "mm", 1) == [pytest.approx(450)] * 9
    assert cells(HOPPER, words, "bench_mm", 1) == [450] * 9
    doubts = cells(HOPPER, words, "doubt_mm", 1)
    assert doubts[4] == pytest.approx(0, abs=1e-9)  # as on the bench
    assert doubts[:5] == sorted(doubts[:5], reverse=True)
    assert doubts[4:] == sorted(doubts[4:])
    # 0.02 % a kelvin of 450 mm over 40 K, and nothing else while the humidity counts for little in the cold.
    assert doubts[0] == pytest.approx(450 * 0.0002 * 40, rel=0.2)


def test_where_tolerance_or_type_end_is_told() -> None:
    rows = sweep_table(COLD, sweep_of("temperature=-40:70:2")).rows
    serves = {row.lead[0]: row.serves for row in rows}
    assert serves[-22] == "too cold for the type"
    assert serves[-20] == "out of tolerance"
    drift = COLD.setting.tolerance_mm
    for row in rows:
        if row.serves == SERVES:
            assert abs(row.points[0][1]) <= (drift or 0)
    assert {serves[celsius] for celsius in range(-2, 7, 2)} == {SERVES}


def test_thin_air_hardly_moves_a_set_point() -> None:
    assert max(map(abs, cells(COLD, "altitude=0:5000", "moved_mm"))) < 0.001 * 462
    assert cells(COLD, "pressure=98:100:1", "mm") == pytest.approx([462] * 3, abs=0.02)


# With another set point or tolerance.


@pytest.mark.parametrize(
    ("made", "words", "key"),
    [
        (TIPPER, "set-point=20:820:20", "at_mm"),
        (COLD, "set-point=400:520:8", "at_mm"),
        (HOPPER, "near=20:460:20", "near_mm"),
        (HOPPER, "far=140:820:20", "far_mm"),
        (TIPPER, "tolerance=0.5:20:0.5", "tolerance_mm"),
        (COLD, "tolerance=1:30:1", "tolerance_mm"),
    ],
)
def test_a_setting_serves_where_an_order_of_it_is_planned(made: Planned, words: str, key: str) -> None:
    table = sweep_table(made, sweep_of(words))
    seen = set()
    for row in table.rows:
        setting = made.setting.model_copy(update={key: row.lead[0]})
        order = made.case.order.model_copy(update={"setting": setting})
        try:
            Order.model_validate(order.model_dump())
            make_plan(order, made.case.sensor_type, RIG)
        except (PlanRefused, ValueError):
            assert row.serves != SERVES, row
        else:
            assert row.serves == SERVES, row
        seen.add(row.serves == SERVES)
    assert seen == {True, False}


def test_a_swept_tolerance_tells_the_finest_and_the_undecided() -> None:
    at_plan = f"tolerance={COLD.plan.tolerance_mm:g}:{COLD.plan.tolerance_mm:g}"
    [risk] = COLD.plan.grounds.risks
    assert cells(COLD, at_plan, "undecided_percent") == [pytest.approx(100 * risk.undecided)]
    [grounds] = COLD.plan.grounds.points
    assert cells(COLD, at_plan, "guard_mm") == [pytest.approx(grounds.guard_mm)]
    shares = cells(COLD, "tolerance=1:10:0.5", "undecided_percent")
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == 100
    finest = cells(COLD, "tolerance=1:10:0.5", "finest_mm")[0]
    served = [
        row.lead[0] for row in sweep_table(COLD, sweep_of("tolerance=3:4:0.01")).rows if row.serves == SERVES
    ]
    assert served[0] == pytest.approx(finest, abs=0.011)


def test_a_thousand_values_are_no_matter() -> None:
    for words in ("temperature=-10:40:0.05", "set-point=100:600:0.5"):
        assert len(sweep_table(COLD, sweep_of(words)).rows) == 1001


# As it is told.


@pytest.mark.parametrize("columns", ["80", "120"])
@pytest.mark.parametrize(
    ("order", "words"),
    [
        ("cold-store-need", "temperature=-10:40"),
        ("hopper-window-no", "temperature=-30:70"),
        ("hopper-window-no", "far=140:820:20"),
        ("tipper-point-no", "tolerance=0.5:9"),
    ],
)
def test_the_table_has_a_row_a_value_and_keeps_to_the_terminal(
    shop: Shop, order: str, words: str, columns: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    code, out, err = shop.run("plan", order, "--sweep", words)
    assert (code, err) == (0, "")
    assert max(map(len, out.splitlines())) <= int(columns)
    rows = re.findall(r"^ *-?[\d.]+  .*  (?:yes|no \(\d\))$", out, re.MULTILINE)
    tables = 2 if "window" in order and words.startswith("temperature") else 1
    assert len(rows) == len(sweep_of(words).values) * tables
    assert "-0.0" not in out
    for number in set(re.findall(r"no \((\d)\)$", out, re.MULTILINE)):
        assert f"- no ({number}): " in out


def test_json_and_csv_say_what_the_table_says(shop: Shop, tmp_path: Path) -> None:
    words = ("plan", "hopper-window-no", "--sweep", "temperature=-30:70:20")
    code, data = shop.run_json(*words)
    assert code == 0
    assert data["quantity"] == "temperature"
    assert (data["order"], data["rig"], data["sensor_type"]) == ("QOC-0102", "simulated", "barrel-18-rail")
    file = tmp_path / "sweep.csv"
    code, out, err = shop.run(*words, "--csv", str(file))
    assert (code, out) == (0, "")
    assert str(file) in err
    raw = file.read_bytes()
    assert raw.count(b"\r\n") == 7
    rows = list(csv.DictReader(raw.decode("utf-8").splitlines()))
    assert rows[0].keys() == data["rows"][0].keys()
    for row, same in zip(rows, data["rows"], strict=True):
        assert row["serves"] == same["serves"]
        for name in row.keys() - {"serves"}:
            assert float(row[name]) == pytest.approx(same[name], abs=0.051)
    assert [float(row["temperature_c"]) for row in rows] == [-30, -10, 10, 30, 50, 70]


def test_a_file_that_is_there_is_kept_unless_told_otherwise(shop: Shop, tmp_path: Path) -> None:
    file = tmp_path / "sweep.csv"
    file.write_text("precious")
    words = ("plan", "tipper-point-no", "--sweep", "tolerance=5:9", "--csv", str(file))
    code, out, err = shop.run(*words)
    assert (code, out, file.read_text()) == (2, "", "precious")
    assert f"{file} is there already" in err
    assert "--force" in err
    assert shop.run(*words, "--force")[0] == 0
    assert file.read_text().startswith("tolerance_mm,")


@pytest.mark.parametrize("place", ["no/such/folder/x.csv", ".", "x" * 300])
def test_a_file_that_cannot_be_written_is_one_clear_line(shop: Shop, place: str) -> None:
    code, out, err = shop.run(
        "plan", "tipper-point-no", "--sweep", "tolerance=5:9", "--csv", place, "--force"
    )
    assert (code, out) == (2, "")
    assert re.fullmatch(r"teachrig: .* cannot be written: .*\n", err)


def test_csv_without_a_sweep_is_refused(shop: Shop, tmp_path: Path) -> None:
    code, _, err = shop.run("plan", "tipper-point-no", "--csv", str(tmp_path / "x.csv"))
    assert code == 2
    assert "--sweep" in err
    assert not (tmp_path / "x.csv").exists()


def test_a_sweep_that_cannot_be_is_bad_input(shop: Shop) -> None:
    code, out, err = shop.run("plan", "cold-store-need", "--sweep", "moon=1:2")
    assert (code, out) == (2, "")
    assert "given 'moon'" in err
    assert "humidity" in err


@given(st.text(max_size=30) | st.sampled_from("=+-@\t\r\n").map(lambda sign: f"{sign}1"))
def test_no_text_in_the_file_is_a_formula_to_a_spreadsheet(words: str) -> None:
    [row] = ONE_ROW.rows
    text = csv_text(replace(ONE_ROW, rows=(SweepRow(row.lead, row.points, words),)))
    _, read = list(csv.reader(io.StringIO(text, newline="")))
    assert not read[-1].startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert read[-1].removeprefix("'") == printable(words).removeprefix("'")


ONE_ROW = sweep_table(TIPPER, sweep_of("tolerance=6:6"))


def test_every_shipped_order_can_be_swept(shop: Shop) -> None:
    for name in sorted(set(shipped_orders()) - {"infeed-full-range"}):
        assert shop.run("plan", name, "--sweep", "temperature=0:30")[0] == 0
