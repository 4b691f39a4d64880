"""The shipped board with all that can be fitted, each instrument simulated in the words that the profile gives it."""

from __future__ import annotations

from pathlib import Path

import pytest

from rig.cli.main import main
from rig.papers.wiring.sheets import all_sheets
from wiring.circuit.build import circuit_of
from wiring.profile import RigProfile, load_profile, shipped_profiles

SHIPPED = shipped_profiles()["stage-nest"]


@pytest.fixture
def rig(tmp_path: Path) -> str:
    text = SHIPPED.read_text(encoding="utf-8").replace("/dev/serial/by-id/", "sim:")
    path = tmp_path / "rig.toml"
    path.write_text(text.replace('"gpio"', '"simulated"'), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize(
    "words",
    [
        ("run", "tipper-point-no"),
        ("selfcheck",),
        ("calibrate", "--reference", "rule", "--reference-error", "0.1"),
    ],
)
def test_orders_self_check_and_calibration_are_done_with_it(
    rig: str, words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, "--rig", rig, "--data", str(tmp_path)]) == 0, capsys.readouterr().out


def test_a_stage_that_is_told_the_words_of_another_is_named(
    rig: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    told = load_profile(SHIPPED).target.spoken
    monkeypatch.setattr(type(told), "move_line", lambda _self, position_mm: f"G1 X{position_mm:.3f}")
    assert main(["run", "tipper-point-no", "--rig", rig, "--data", str(tmp_path)]) == 3
    assert "stage at sim:stage: refused 'G1 X" in capsys.readouterr().err


def profile_with(**ports: bool) -> RigProfile:
    profile = load_profile(SHIPPED)
    air = profile.air if ports["probe"] else profile.air.model_copy(update={"probe": None})
    return profile.model_copy(update={"air": air, **({} if ports["reader"] else {"code_reader": None})})


@pytest.mark.parametrize("probe", [True, False])
@pytest.mark.parametrize("reader", [True, False])
def test_the_overview_shows_what_is_fitted(probe: bool, reader: bool) -> None:
    profile = profile_with(probe=probe, reader=reader)
    overview = all_sheets(profile, circuit_of(profile), "0123456789ab")[0]
    words = {text.words for text in overview.texts()}
    assert ("air probe" in words, "code reader" in words) == (probe, reader)
