"""Where a probe is fitted, an order is planned for the air that is there."""

from __future__ import annotations

import asyncio
from pathlib import Path

import pytest

from hal.errors import InstrumentError
from hal.simulated.benchfile import BenchFile
from hal.simulated.probe import SimulatedProbe
from rig.air_now import in_measured_air
from rig.cli.main import main
from tests.hal.ptyport import on_pty
from tests.rig.planned import STAGE
from tests.rig.sequencer.floor import rig_like
from wiring.profile import ProbeProfile, RigProfile, find_profile

WARM = BenchFile.model_validate(
    {"title": "warm", "unit": [{}], "air": {"temperature_c": 27.3, "humidity_percent": 38}}
)
PROBE = ProbeProfile(port="sim:probe")


def with_probe(probe: ProbeProfile) -> RigProfile:
    return rig_like(STAGE, air=STAGE.air.model_dump(mode="json") | {"probe": probe.model_dump(mode="json")})


def test_the_air_is_that_of_the_bench_and_its_doubt_that_of_the_profile() -> None:
    rig = in_measured_air(with_probe(PROBE), WARM)
    assert (rig.air.temperature_c, rig.air.humidity_percent) == (27.3, 38.0)
    assert rig.air.pressure_kpa == STAGE.air.pressure_kpa
    assert rig.air.temperature_error_k == STAGE.air.temperature_error_k


def test_without_a_probe_the_typed_air_stands() -> None:
    assert in_measured_air(STAGE, WARM) == STAGE


def test_from_the_midst_of_an_event_loop_over_a_real_port() -> None:
    class Air:
        temperature_c = 25.4
        humidity_percent = 44.0

    async def main() -> RigProfile:
        with on_pty(SimulatedProbe(Air(), PROBE)) as port:
            rig = with_probe(ProbeProfile(port=port.name))
            return await asyncio.to_thread(in_measured_air, rig, None)

    assert asyncio.run(main()).air.temperature_c == 25.4


def test_a_probe_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(InstrumentError, match="there is no port"):
        in_measured_air(with_probe(ProbeProfile(port=str(tmp_path / "probe"))), None)


def test_plan_and_survey_take_the_air_that_the_probe_measures(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TEACHRIG_DATA", str(tmp_path))
    rig, bench = tmp_path / "rig.toml", tmp_path / "bench.toml"
    shipped = find_profile("simulated").read_text(encoding="utf-8")
    rig.write_text(f'{shipped}\n[air.probe]\nport = "sim:probe"\n', encoding="utf-8")
    unit = '[[unit]]\narrives = { mode = "single-point", near_mm = 300.0 }\n'
    bench.write_text(f'title = "warm"\nair.temperature_c = 27.3\n{unit}', encoding="utf-8")
    words = ["survey", "barrel-18-rail", "--rig", str(rig), "--bench", str(bench), "--out", "-"]
    assert main(words) == 0
    told = capsys.readouterr()
    assert "air by the probe: 27.3 °C, 50 %" in told.err
    assert "coldest_c = 27.3" in told.out
    assert main(["plan", "tipper-point-no", "--rig", str(rig), "--air-now"]) == 0
    assert "air by the probe" in capsys.readouterr().err
    assert main(["plan", "tipper-point-no", "--air-now"]) == 2
    assert "has no probe" in capsys.readouterr().err


def test_an_order_runs_in_air_that_nobody_typed_in(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rig, bench = tmp_path / "rig.toml", tmp_path / "bench.toml"
    shipped = find_profile("simulated").read_text(encoding="utf-8")
    rig.write_text(f'{shipped}\n[air.probe]\nport = "sim:probe"\n', encoding="utf-8")
    bench.write_text('title = "warm"\nair.temperature_c = 27.3\nendless = true\n[[unit]]\n', encoding="utf-8")
    words = ["run", "tipper-point-no", "--rig", str(rig), "--bench", str(bench), "--data", str(tmp_path)]
    assert main(words) == 0
    told = capsys.readouterr()
    assert "air by the probe: 27.3 °C, 50 %" in told.err
    assert "0 undecided" in told.out
