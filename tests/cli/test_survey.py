"""`survey`: what it says, the order that it writes, and units set by that order beside the one surveyed."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from math import hypot
from pathlib import Path
from typing import Any

import pytest

import hal.simulated
from hal.simulated.bench import SimulatedBench
from hal.simulated.unit import Unit
from rig.events import ContactEnded, Purpose
from rig.journal import read_journal
from rig.library import Section
from rig.survey.report import SurveyReport
from tests.cli.shop import Shop
from tests.rig.planned import TYPES

SERIAL = "QOC18-0041"
ORDER = f"COPY-{SERIAL}"


def hopper_unit(shop: Shop, *more: str) -> tuple[int, str, str]:
    return shop.run("survey", "barrel-18-rail", "--bench", "hopper-unit", "--serial", SERIAL, *more)


def written(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))


class TestSurvey:
    def test_setting_and_edges_are_told_and_the_order_is_one_of_the_shop(self, shop: Shop) -> None:
        code, out, err = hopper_unit(shop, "--quantity", "4")
        assert code == 0
        for words in ("window", "NO (on with an object)", "PNP", "near end", "far end", "not touched"):
            assert words in out, words
        assert "SIMULATED" in err
        assert f"next: teachrig plan {ORDER}" in err
        order = written(shop.home / "orders" / f"{ORDER}.toml")
        setting = order["setting"]
        assert (setting["mode"], setting["output_function"], setting["output_type"]) == (
            "window",
            "NO",
            "PNP",
        )
        assert setting["near_mm"] == pytest.approx(148.6, abs=0.7)
        assert setting["far_mm"] == pytest.approx(453.2, abs=1.0)
        assert order["quantity"] == 4
        assert shop.run("plan", ORDER)[0] == 0
        assert shop.run("validate", str(shop.home / "orders" / f"{ORDER}.toml"))[0] == 0

    def test_the_order_says_where_it_comes_from_and_in_what_air_it_holds(self, shop: Shop) -> None:
        hopper_unit(shop)
        order = written(shop.home / "orders" / f"{ORDER}.toml")
        notes = " ".join(order["notes"].split())
        for words in (
            SERIAL,
            "the simulated bench",
            "window NO",
            "23 °C",
            "stands for the air at the machine",
        ):
            assert words in notes, words
        air = order["need"]["air"]
        assert (air["coldest_c"], air["warmest_c"], air["driest_percent"]) == (23.0, 23.0, 50.0)

    def test_the_record_can_be_read_as_a_survey_in_which_nothing_was_taught(
        self, shop: Shop, tmp_path: Path
    ) -> None:
        hopper_unit(shop)
        events = list(read_journal(tmp_path / "data" / "journal.sqlite3"))
        assert events[0].event.purpose is Purpose.SURVEY  # type: ignore[attr-defined]
        assert {one.serial for one in events} == {"", SERIAL}
        assert not any(isinstance(one.event, ContactEnded) for one in events)
        found = SurveyReport.of(events).found
        assert found is not None
        assert list(found.points) == ["near", "far"]

    def test_json_holds_what_was_measured_and_the_order(self, shop: Shop) -> None:
        code, told = shop.run_json(
            "survey", "barrel-18-rail", "--bench", "hopper-unit", "--serial", SERIAL, "--tolerance", "9"
        )
        assert code == 0
        assert told["simulated"] is True
        assert told["verdict"] == "good"
        assert told["setting"]["mode"] == "window"
        assert {edge["edge"] for edge in told["edges"]} == {"inner", "outer"}
        assert told["order"]["setting"]["tolerance_mm"] == 9
        assert written(Path(told["order_file"])) == told["order"]

    def test_an_order_goes_where_it_is_told_and_never_over_another(self, shop: Shop, tmp_path: Path) -> None:
        out = tmp_path / "here.toml"
        assert hopper_unit(shop, "--out", str(out))[0] == 0
        assert written(out)["number"] == ORDER
        code, said, err = hopper_unit(shop, "--out", str(out))
        assert (code, said) == (2, "")
        assert "is there already" in err
        assert hopper_unit(shop)[0] == 0
        code, said, err = hopper_unit(shop)
        assert (code, said) == (2, "")
        assert "--out" in err

    def test_an_order_for_standard_output_comes_alone(self, shop: Shop) -> None:
        code, out, err = hopper_unit(shop, "--out", "-")
        assert code == 0
        assert tomllib.loads(out)["number"] == ORDER
        assert f"unit {SERIAL} good" in err
        assert list(shop.home.iterdir()) == []

    def test_a_tolerance_that_cannot_be_proved_is_replaced_and_said(self, shop: Shop) -> None:
        code, _, err = hopper_unit(shop, "--tolerance", "0.5")
        assert code == 1
        assert "instead of 0.5 mm" in err
        assert "finer than this rig can prove" in err
        assert written(shop.home / "orders" / f"{ORDER}.toml")["setting"]["tolerance_mm"] > 2

    def test_without_a_serial_the_unit_gets_one(self, shop: Shop) -> None:
        code, told = shop.run_json("survey", "block-rail")
        assert code == 0
        assert told["setting"]["mode"] == "full-range"
        assert told["order"]["number"].startswith("COPY-2")

    @pytest.mark.parametrize(
        ("row", "said"),
        [
            ('faults = [{ kind = "dead" }]', "unit draws 0 mA"),
            ('faults = [{ kind = "wrong-kind", actual = "block-rail" }]', "another type?"),
            ('arrives = { mode = "single-point", near_mm = 797.0 }', "a set point, or full range"),
        ],
    )
    def test_what_is_in_doubt_ends_with_1_and_without_an_order(self, shop: Shop, row: str, said: str) -> None:
        bench = shop.keep(Section.BENCHES, "odd", f'title = "odd"\n[[unit]]\n{row}\n')
        code, out, _ = shop.run("survey", "barrel-18-rail", "--bench", str(bench))
        assert code == 1
        assert said in " ".join(out.split())
        assert not (shop.home / "orders").exists()

    def test_a_setting_that_this_rig_cannot_teach_is_told_but_gives_no_order(self, shop: Shop) -> None:
        text = 'title = "odd"\n[[unit]]\narrives = { mode = "window", near_mm = 300.0, far_mm = 314.0 }\n'
        bench = shop.keep(Section.BENCHES, "narrow", text)
        code, out, err = shop.run("survey", "barrel-18-rail", "--bench", str(bench))
        assert code == 1
        assert "window" in out
        assert "no order is written" in err
        assert "smaller than the type can hold" in err
        assert not (shop.home / "orders").exists()

    def test_a_trip_ends_with_3(self, shop: Shop) -> None:
        text = 'title = "odd"\n[[unit]]\n[[fault]]\nkind = "stop-pressed"\nafter_s = 20\n'
        bench = shop.keep(Section.BENCHES, "odd", text)
        code, out, err = shop.run("survey", "barrel-18-rail", "--bench", str(bench))
        assert code == 3
        assert "TRIPPED" in err
        assert "interrupted" in " ".join(out.split())

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (["barrel-18-rial"], "did you mean barrel-18-rail"),
            (["barrel-18-rail", "--rig", "single-nest"], "a survey needs a target drive"),
            (["barrel-18-rail", "--serial", "a b"], "is no serial (given"),
            (["barrel-18-rail", "--out", "order.txt"], "ends in .toml"),
        ],
    )
    def test_what_cannot_be_is_refused_before_anything_moves(
        self, shop: Shop, words: list[str], said: str
    ) -> None:
        code, out, err = shop.run("survey", *words)
        assert (code, out) == (2, "")
        assert said in err

    @pytest.mark.parametrize("tolerance", ["0", "-1", "much", "nan", "501"])
    def test_an_odd_tolerance_is_refused(self, shop: Shop, tolerance: str) -> None:
        with pytest.raises(SystemExit) as end:
            hopper_unit(shop, "--tolerance", tolerance)
        assert end.value.code == 2


@pytest.fixture
def taught(monkeypatch: pytest.MonkeyPatch) -> list[Unit]:
    """The simulated units that went through the nest, for whoever wants to put them back on the bench."""
    units: list[Unit] = []
    simulate = hal.simulated.simulate

    def watched(*arguments: Any) -> SimulatedBench:
        bench = simulate(*arguments)
        fit_next = bench.world.fit_next

        def fitted(nest: str | None = None, serial: str | None = None) -> Unit | None:
            unit = fit_next(nest, serial)
            if unit is not None:
                units.append(unit)
            return unit

        bench.world.fit_next = fitted  # type: ignore[method-assign]
        return bench

    monkeypatch.setattr(hal.simulated, "simulate", watched)
    return units


def row_of(unit: Unit) -> Iterator[str]:
    """The row of a bench file that holds such a unit."""
    memory = unit.memory
    points = {"near_mm": memory.near_mm, "far_mm": memory.far_mm}
    words = [f"{key} = {at_mm}" for key, at_mm in points.items() if at_mm is not None]
    arrives = ", ".join((f'mode = "{memory.mode}"', f'output_function = "{memory.function}"', *words))
    yield "[[unit]]"
    yield f'kind = "{unit.kind.name}"'
    yield f"arrives = {{ {arrives} }}"
    yield f'change = {{ output_type = "{unit.kind.output_type}" }}'


def operate_points(told: dict[str, Any]) -> dict[str, tuple[float, float]]:
    return {edge["edge"]: (edge["operate_mm"], edge["operate_u_mm"]) for edge in told["edges"]}


MODELS = {
    "barrel-18-rail": 'arrives = { mode = "window", near_mm = 148.6, far_mm = 453.2 }',
    "barrel-12-count": 'arrives = { mode = "single-point", output_function = "NC", near_mm = 181.4 }',
    "block-rail": 'arrives = { mode = "window", output_function = "NC", near_mm = 400.0, far_mm = 1100.0 }',
    "barrel-30-length": 'arrives = { mode = "full-range", output_function = "NC" }',
}


@pytest.mark.parametrize("type_name", MODELS)
def test_a_survey_cannot_tell_units_set_by_its_order_from_the_one_surveyed(
    shop: Shop, taught: list[Unit], type_name: str
) -> None:
    head = f'title = "copies"\nseed = 5\n[[unit]]\nkind = "{type_name}"\n'
    model = shop.keep(Section.BENCHES, "model", head + MODELS[type_name])
    code, first = shop.run_json(
        "survey", type_name, "--bench", str(model), "--serial", "MODEL-1", "--quantity", "3"
    )
    assert code == 0
    del taught[:]
    assert shop.run("run", "COPY-MODEL-1")[0] == 0
    copies, points = list(taught), operate_points(first)
    assert len(copies) == 3
    for number, unit in enumerate(copies):
        text = "\n".join(('title = "copy"', f"seed = {number + 10}", *row_of(unit)))
        bench = shop.keep(Section.BENCHES, f"copy-{number}", text)
        code, again = shop.run_json("survey", type_name, "--bench", str(bench), "--serial", f"COPY-{number}")
        assert code == 0
        setting = {key: again["setting"][key] for key in ("mode", "output_function", "output_type")}
        assert setting == {key: first["setting"][key] for key in setting}
        for edge, (at_mm, u_mm) in operate_points(again).items():
            # A unit takes one look at what it is taught: what its data sheet leaves to that is in neither survey.
            teach_mm = TYPES[type_name].sensing.repeat_accuracy_percent / 100 * at_mm
            combined_mm = hypot(u_mm, points[edge][1], teach_mm)
            assert abs(at_mm - points[edge][0]) <= combined_mm, (number, edge)
