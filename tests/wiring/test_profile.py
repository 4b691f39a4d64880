"""The rig profile: what ships is right, every wrong edit is told with its place, and finding goes by name."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from pydantic import ValidationError

from tests.badfiles import DataFileContract, Slip, check_slip, only_problem, problems_of
from tests.wiring.profileslips import (
    GAUGED,
    GAUGED_SLIPS,
    MANUAL,
    MANUAL_SLIPS,
    STAGE,
    STAGE_SLIPS,
    TWO_RELAY,
    TWO_RELAY_SLIPS,
)
from wiring.profile import (
    InputLine,
    RelayLine,
    RigProfile,
    TargetKind,
    find_profile,
    load_profile,
    shipped_profiles,
)
from wiring.tomlfile import parse_toml_model


def parse(text: str, file_name: str = "bench.toml") -> RigProfile:
    return parse_toml_model(text, file_name, RigProfile, what="rig profile")


class TestProfileFile(DataFileContract):
    good_text = STAGE
    load = staticmethod(load_profile)


def slips(good_text: str, table: tuple[Slip, ...]) -> list[object]:
    return [pytest.param(good_text, slip, id=slip.name) for slip in table]


@pytest.mark.parametrize(
    ("good_text", "slip"),
    [
        *slips(STAGE, STAGE_SLIPS),
        *slips(MANUAL, MANUAL_SLIPS),
        *slips(GAUGED, GAUGED_SLIPS),
        *slips(TWO_RELAY, TWO_RELAY_SLIPS),
    ],
)
def test_a_slip_is_told_with_its_place(good_text: str, slip: Slip) -> None:
    check_slip(slip, good_text, parse)


def test_all_slips_of_one_file_are_told_at_once_in_the_order_of_the_file() -> None:
    text = STAGE
    for slip in (
        slip for slip in STAGE_SLIPS if slip.name in ("number as truth", "not PELV", "no such line")
    ):
        text = slip.edited(text)
    keys = [problem.key for problem in problems_of(lambda: parse(text))]
    assert keys == ["coil_supply.beat_s", "supply.voltage_v", "target.swing.line"]


def test_every_contradiction_is_told_at_once() -> None:
    text = STAGE.replace('"GPIO13"', '"GPIO4"').replace('"GPIO7"', '"GPIO4"').replace("0.05\n", "0.02\n", 1)
    text = text.replace("release_s = 0.015", "release_s = 0.03").replace("sim:stage", "sim:supply")
    keys = [problem.key for problem in problems_of(lambda: parse(text))]
    assert keys == ["dead_time_s", "target.port", "nest#1.teach_contact.line", "nest#1.led.line"]


@pytest.mark.parametrize("name", shipped_profiles())
def test_a_shipped_profile_loads_and_bears_the_name_of_its_file(name: str) -> None:
    assert load_profile(shipped_profiles()[name]).name == name


def test_the_program_ships_a_simulated_and_a_real_bench() -> None:
    back_ends = {name: load_profile(path).back_end for name, path in shipped_profiles().items()}
    assert back_ends["simulated"] == "simulated"
    assert back_ends["single-nest"] == "gpio"


def test_the_two_relay_profile_is_read_as_written() -> None:
    profile = parse(TWO_RELAY)
    left, right = profile.nest
    assert left.teach_relays == (left.plus_contact, left.minus_contact)
    assert [relay.line for relay in right.teach_relays] == ["GPIO14", "GPIO15"]
    assert left.rail_selector is None
    assert profile.target.kind is TargetKind.SLOTS
    assert [(slot.number, slot.position_mm) for slot in profile.target.slots] == [(1, 100.0), (2, 350.0)]
    assert profile.foot_switch is None
    assert profile.coil_supply.stop_button == InputLine(line="GPIO17", active="low")


def test_what_a_profile_leaves_out_is_an_ordinary_bench() -> None:
    profile = parse(TWO_RELAY.replace("dead_time_s = 0.06\n", "").replace("nearest_mm = 80\n", ""))
    assert (profile.dead_time_s, profile.coil_supply.beat_s, profile.coil_supply.dropout_s) == (
        0.05,
        0.06,
        0.2,
    )
    assert (profile.supply.voltage_v, profile.supply.current_limit_a) == (24.0, 0.25)
    assert (profile.target.nearest_mm, profile.target.side_mm) == (0.0, 100.0)
    assert (profile.air.temperature_c, profile.air.humidity_percent, profile.air.pressure_kpa) == (
        23.0,
        50.0,
        101.325,
    )
    target, air = profile.target, profile.air
    assert (target.placement_mm, target.zero_error_mm, target.scale_error_percent) == (0.5, 0.2, 0.05)
    assert (target.resolution_mm, target.tilt_deg, target.clear_radius_mm) == (0.1, 1.0, None)
    assert (air.temperature_error_k, air.humidity_error_percent, air.pressure_error_kpa) == (1.0, 10.0, 3.0)
    nest = profile.nest[0]
    assert (nest.series_resistor_ohm, nest.load_resistor_ohm) == (1000.0, 4700.0)
    assert (nest.load.operate_s, nest.load.release_s, nest.load.bounce_s) == (0.010, 0.005, 0.003)


def test_the_relays_of_a_selector_are_in_the_order_of_the_path() -> None:
    nest = parse(STAGE).nest[0]
    assert nest.teach_relays == (nest.rail_selector, nest.teach_contact)


def test_a_relay_settles_after_its_slower_move_and_the_bounce() -> None:
    relay = RelayLine(line="GPIO5", operate_s=0.1, release_s=0.05, bounce_s=0.2)
    assert relay.settle_s == 0.3
    assert relay.released_s == 0.25
    assert RelayLine(line="GPIO5", operate_s=0.01, release_s=0.1, bounce_s=0.2).settle_s == 0.3


def test_limits_hold_to_the_last_digit_that_a_person_types() -> None:
    # 3 * 0.1 and 0.1 + 0.2 are both a hair above 0.3 in binary.
    text = STAGE.replace("beat_s = 0.06", "beat_s = 0.1").replace("dropout_s = 0.2", "dropout_s = 0.3")
    text = text.replace("dead_time_s = 0.05", "dead_time_s = 0.3")
    text = text.replace("release_s = 0.015", "operate_s = 0.1, bounce_s = 0.2, release_s = 0.015")
    assert parse(text).dead_time_s == 0.3


def test_no_message_speaks_in_patterns() -> None:
    def unexplained(schema: object) -> bool:
        if isinstance(schema, dict):
            return ("pattern" in schema and "description" not in schema) or any(
                map(unexplained, schema.values())
            )
        return isinstance(schema, list) and any(map(unexplained, schema))

    assert not unexplained(RigProfile.model_json_schema())


def test_a_profile_cannot_be_changed_once_read() -> None:
    profile = parse(STAGE)
    with pytest.raises(ValidationError):
        profile.dead_time_s = 0.0


def test_a_name_finds_a_shipped_profile_and_a_path_stays_a_path() -> None:
    assert find_profile("single-nest") == shipped_profiles()["single-nest"]
    assert find_profile("my-bench.toml") == Path("my-bench.toml")
    assert find_profile("./simulated") == Path("simulated")
    assert find_profile("/etc/bench") == Path("/etc/bench")


def test_a_name_is_never_looked_for_in_the_working_directory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "workshop").write_text(STAGE, encoding="utf-8")
    (tmp_path / "workshop.toml").write_text(STAGE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    problem = only_problem(lambda: find_profile("workshop"))
    assert problem.message == "there is no rig profile of this name"
    assert problem.given == '"workshop"'
    assert problem.allowed == "hand-gauge, simulated, single-nest, stage-nest, or a path that ends in .toml"


@pytest.mark.parametrize(("typed", "meant"), [("simulate", "simulated"), ("singlenest", "single-nest")])
def test_a_mistyped_name_is_met_with_the_right_one(typed: str, meant: str) -> None:
    problem = only_problem(lambda: find_profile(typed))
    assert problem.message.endswith(f"did you mean {meant}?")


@pytest.mark.parametrize("typed", ["", " ", "\x1b[2J", "simulated\n"])
def test_an_odd_name_is_refused_without_harm(typed: str) -> None:
    assert str(only_problem(lambda: find_profile(typed))).isprintable()


def test_reading_profiles_loads_no_hardware_no_screen_and_no_database() -> None:
    code = (
        "import sys, wiring.profile as p; p.load_profile(p.find_profile('simulated'));"
        "print(*{name.partition('.')[0] for name in sys.modules})"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    ).stdout.split()
    assert "pydantic" in loaded
    assert not {
        "gpiozero",
        "serial",
        "textual",
        "rich",
        "sqlite3",
        "asyncio",
        "hal",
        "rig",
        "sequences",
    } & set(loaded)
