"""`teachrig service`: the systemd unit that it prints."""

from __future__ import annotations

import configparser
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from rig.cli import service
from rig.cli.service import unit_text
from rig.cli.stops import STOPS
from rig.library import Section
from tests.cli.shop import Shop
from wiring.profile import find_profile, load_profile

BOARD = load_profile(find_profile("single-nest"))


def keys(text: str) -> dict[str, str]:
    unit = configparser.ConfigParser(strict=False, interpolation=None, delimiters=("=",))
    unit.optionxform = str  # type: ignore[assignment, method-assign]
    unit.read_string(text)
    return dict(unit["Service"])


def test_the_unit_runs_this_installation_and_releases_whatever_has_ended_it(shop: Shop) -> None:
    code, out, err = shop.run("service", "--rig", "single-nest")
    assert code == 0
    program = Path(sys.executable).with_name("teachrig")
    told = keys(out)
    assert told["ExecStart"] == f"{program} bench --rig single-nest"
    assert told["ExecStopPost"] == f"{program} release --rig single-nest"
    assert (told["Type"], told["User"], told["KillMode"]) == ("notify", "teachrig", "process")
    assert told["SupplementaryGroups"] == "gpio dialout"
    assert {told["Restart"], *told["SuccessExitStatus"].split()} == {"always", *map(str, set(STOPS.values()))}
    assert "DeviceAllow=char-gpiochip rw\n" in out
    assert "useradd --system --shell /usr/sbin/nologin --groups gpio,dialout teachrig" in err


def test_a_rig_without_ports_may_use_none(shop: Shop) -> None:
    text = find_profile("single-nest").read_text(encoding="utf-8").replace('"scpi"', '"fixed"')
    text = "\n".join(line for line in text.splitlines() if not line.startswith("port ="))
    shop.keep(Section.RIGS, "bare", text.replace('"single-nest"', '"bare"'))
    _, out, _ = shop.run("service", "--rig", "bare")
    assert keys(out)["SupplementaryGroups"] == "gpio"
    assert "ttyUSB" not in out


def test_a_path_is_made_whole_and_percent_signs_are_not_taken_for_more(tmp_path: Path) -> None:
    text = unit_text(BOARD, f"{tmp_path}/my rig 100%.toml", "teachrig", "tty1")
    assert keys(text)["ExecStart"].endswith(f" bench --rig '{tmp_path}/my rig 100%%.toml'")


@pytest.mark.parametrize("words", [("--user", "a b"), ("--user", "x\ny"), ("--tty", "../sda")])
def test_what_cannot_stand_in_a_unit_is_refused(shop: Shop, words: tuple[str, str]) -> None:
    code, out, err = shop.run("service", *words)
    assert (code, out) == (2, "")
    assert f"{words[0]}: given" in err


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not here")
def test_systemd_finds_no_fault_with_it_and_few_ways_out(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    program = tmp_path / "teachrig"
    program.write_text("#!/bin/sh\n")
    program.chmod(program.stat().st_mode | stat.S_IXUSR)
    monkeypatch.setattr(service.sys, "executable", str(tmp_path / "python"))
    unit = tmp_path / "teachrig.service"
    unit.write_text(unit_text(BOARD, "single-nest", "teachrig", "tty1"))

    def analyzed(*words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["systemd-analyze", *words, str(unit)],
            capture_output=True,
            text=True,
            env={**os.environ, "LC_ALL": "C"},
        )

    verified = analyzed("verify")
    if "Failed to" in verified.stderr:
        pytest.skip(f"systemd-analyze does not work here: {verified.stderr}")
    assert (verified.returncode, verified.stderr) == (0, "")
    # 0 is 'no way out', 10 'everything'; a service left as it comes has 9.6.
    assert analyzed("security", "--offline=true", "--threshold=25").returncode == 0
