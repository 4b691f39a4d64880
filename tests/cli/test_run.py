"""`run`, `demo`, `validate` and `--help`: exit codes, streams, bad input."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from rig.journal import read_journal
from sequences.library import shipped_orders, shipped_types
from tests.cli.shop import Shop
from wiring.profile import shipped_profiles


class TestRun:
    def test_sound_units_end_with_0_and_data_alone_on_standard_output(self, shop: Shop) -> None:
        code, out, err = shop.run("run", "tipper-point-no", "--json")
        told = json.loads(out)
        assert code == 0
        assert told["simulated"] is True
        assert told["counts"] == {"good": 12, "bad": 0, "undecided": 0}
        assert "SIMULATED" in err

    def test_a_bad_unit_ends_with_1_and_is_named(self, shop: Shop) -> None:
        code, out, _ = shop.run("run", "tipper-point-no", "--bench", "demo")
        assert code == 1
        assert "x bad" in out
        assert "output at mm" in out

    def test_a_wide_table_tells_contacts_readings_and_time(
        self, shop: Shop, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        monkeypatch.setenv("COLUMNS", "140")
        _, out, err = shop.run("run", "tipper-point-no")
        for header in ("serial", "verdict", "found", "contacts s", "output at mm", "time s"):
            assert header in out, header
        assert all(line == line.rstrip() for line in out.splitlines())
        assert "finished before" not in err

    def test_an_order_that_is_finished_is_set_again_and_says_so(self, shop: Shop) -> None:
        shop.run("run", "spares-window-measured")
        code, _, err = shop.run("run", "spares-window-measured")
        assert (
            code,
            "order QOC-0118 was finished before, begun 2026-01-05: all units are set again" in err,
        ) == (0, True)

    @pytest.mark.parametrize("columns", [60, 80, 140])
    def test_a_measured_order_draws_each_edge_with_its_numbers(
        self, shop: Shop, monkeypatch: pytest.MonkeyPatch, columns: int
    ) -> None:
        monkeypatch.setenv("COLUMNS", str(columns))
        code, out, _ = shop.run("run", "spares-window-measured")
        assert code == 0
        assert "\x1b" not in out
        assert max(len(line) for line in out.splitlines() if "QOC" not in line) <= columns
        drawn = [line for line in out.splitlines() if line.startswith(("allowed", "measured"))]
        assert len(drawn) == 3 * 2 * 2
        for allowed, measured in zip(drawn[::2], drawn[1::2], strict=True):
            # Sound units: the operate point is drawn inside of what is allowed.
            assert allowed.index("+") < measured.index("O") <= measured.rindex("O") < allowed.rindex("+")
            assert "R" in measured
        for words in ("operate point", "release point", "differential", "repeat accuracy", "\u00b1"):
            assert words in out
        assert "readings" in out
        assert "this bench cannot" in out

    def test_a_measured_order_tells_programs_the_same(self, shop: Shop) -> None:
        _, told = shop.run_json("run", "spares-window-measured")
        for unit in told["units"]:
            outer, inner = unit["edges"]
            assert (outer["edge"], inner["edge"]) == ("outer", "inner")
            assert abs(outer["operate_mm"] - 560) < 6 - outer["operate_u_mm"]
            assert abs(inner["operate_mm"] - 280) < 6 - inner["operate_u_mm"]
            assert outer["seconds"] > 5
            assert outer["readings"] > 20
            assert {one["verdict"] for one in unit["requirements"]} == {"good"}
            assert {one["name"] for one in unit["figures"]} >= {
                "supply current",
                "voltage drop of the output",
            }

    def test_a_trip_ends_with_3_and_leaves_the_rest(self, shop: Shop) -> None:
        code, told = shop.run_json("run", "tipper-point-no", "--bench", "welded")
        assert code == 3
        assert told["trip"]["cause"] == "readback-welded"
        assert told["left"] == 10
        assert [unit["verdict"] for unit in told["units"]] == ["good", "undecided"]

    def test_a_board_that_is_not_there_is_never_simulated(self, shop: Shop) -> None:
        code, out, err = shop.run("run", "tipper-point-no", "--rig", "single-nest")
        assert code == 3
        assert out == ""
        assert "SIMULATED" not in err
        assert "GPIO" in err
        assert shop.run("run", "tipper-point-no", "--rig", "single-nest", "--bench", "sound")[0] == 2

    def test_records_go_where_they_are_told(self, shop: Shop, tmp_path: Path) -> None:
        assert shop.run("run", "tray-point-nc", "--data", str(tmp_path / "here"))[0] == 0
        assert sum(1 for _ in read_journal(tmp_path / "here" / "journal.sqlite3")) > 100
        assert shop.run("run", "tray-point-nc")[0] == 0
        assert (tmp_path / "data" / "journal.sqlite3").is_file()

    def test_a_record_that_cannot_be_kept_stops_before_a_unit_is_taught(
        self, shop: Shop, tmp_path: Path
    ) -> None:
        (tmp_path / "file").write_text("not a folder")
        code, out, err = shop.run("run", "tipper-point-no", "--data", str(tmp_path / "file"))
        assert (code, out) == (3, "")
        assert "cannot keep the record here" in err

    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (["run", "tiper-point-no"], "did you mean tipper-point-no"),
            (["run", "tipper-point-no", "--rig", "simulate"], "did you mean simulated"),
            (["run", "tipper-point-no", "--bench", "sond"], "did you mean sound"),
            (["plan", "nowhere.toml"], "nowhere.toml"),
        ],
    )
    def test_a_wrong_name_is_bad_input(self, shop: Shop, words: list[str], said: str) -> None:
        code, out, err = shop.run(*words)
        assert (code, out) == (2, "")
        assert said in err


class TestDemo:
    @pytest.mark.parametrize("seed", ["1", "2"])
    def test_every_unit_is_judged_as_it_deserves(self, shop: Shop, seed: str) -> None:
        code, units = shop.run_json("demo", "--seed", seed)
        assert code == 0
        assert len(units) == 18
        assert len({unit["sensor_type"] for unit in units}) == 3
        assert {unit["verdict"] for unit in units} == {"good", "bad", "undecided"}

    def test_the_same_seed_gives_the_same_batch(self, shop: Shop) -> None:
        assert (
            shop.run("demo", "--units", "6", "--seed", "9")[1]
            == shop.run("demo", "--units", "6", "--seed", "9")[1]
        )

    @pytest.mark.parametrize("units", ["0", "-1", "1.5", "many", "99999"])
    def test_an_odd_number_of_units_is_refused(self, shop: Shop, units: str) -> None:
        with pytest.raises(SystemExit) as end:
            shop.run("demo", "--units", units)
        assert end.value.code == 2


class TestValidate:
    def test_what_is_shipped_is_right(self, shop: Shop) -> None:
        files = [*shipped_orders().values(), *shipped_types().values(), *shipped_profiles().values()]
        code, out, err = shop.run("validate", *map(str, files))
        assert (code, err) == (0, "")
        assert len(out.splitlines()) == len(files)

    @pytest.mark.parametrize(
        "text", ["", "x = [", "number = 5", "\ufeff\x00", "a = 1\n" * 1000, "number = 2026-01-01"]
    )
    def test_what_is_wrong_is_told_with_its_place(self, shop: Shop, tmp_path: Path, text: str) -> None:
        path = tmp_path / "odd.toml"
        path.write_text(text, encoding="utf-8")
        code, out, err = shop.run("validate", str(path))
        assert (code, out) == (2, "")
        assert str(path) in err
        assert "Traceback" not in err


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\nfrom rig.cli.main import main\ntry:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "heavy = {'numpy', 'scipy', 'sqlalchemy', 'textual', 'pydantic', 'gpiozero', 'rich', 'sqlite3', 'asyncio'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert told.stderr.strip() == "[]"
    assert "PELV" in told.stdout
