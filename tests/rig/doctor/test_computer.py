"""What the doctor says of a computer, from files as a kernel shows them."""

from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from rig.doctor import computer
from rig.doctor.computer import look_at_computer
from rig.doctor.found import Found, Health

NOW = datetime(2026, 6, 1, 8, 30, tzinfo=UTC)


def put(root: Path, name: str, text: str) -> None:
    (root / name).parent.mkdir(parents=True, exist_ok=True)
    (root / name).write_text(text)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    put(tmp_path, "proc/meminfo", "MemTotal: 900000 kB\nMemAvailable: 600000 kB\n")
    put(tmp_path, "sys/class/thermal/thermal_zone0/temp", "45123\n")
    put(tmp_path, "dev/rtc0", "")
    return tmp_path


def looked(
    root: Path, *, records: Path | None = None, encoding: str = "UTF-8", now: datetime = NOW
) -> dict[str, Found]:
    return {one.what: one for one in look_at_computer(root, records or root / "records", encoding, now)}


def test_a_sound_computer_has_nothing_to_mend(root: Path) -> None:
    found = looked(root)
    assert {one.health for one in found.values()} == {Health.GOOD}
    assert found["memory"].words == "600 MB free"
    assert found["processor"].words == "45 degrees C"
    assert "2026-06-01 08:30 UTC" in found["clock"].words


@pytest.mark.parametrize(
    ("temperature", "health"),
    [("69999", Health.GOOD), ("70000", Health.NOTE), ("80000", Health.BAD), ("-5000", Health.GOOD)],
)
def test_heat_is_told_of_the_hottest_place(root: Path, temperature: str, health: Health) -> None:
    put(root, "sys/class/thermal/thermal_zone1/temp", temperature)
    put(root, "sys/class/thermal/thermal_zone0/temp", "-9000")
    put(root, "sys/class/thermal/thermal_zone2/temp", "no reading")
    assert looked(root)["processor"].health is health


def test_a_board_without_a_thermometer_says_nothing_of_heat(root: Path) -> None:
    (root / "sys/class/thermal/thermal_zone0/temp").unlink()
    assert "processor" not in looked(root)


def test_little_memory_is_told(root: Path) -> None:
    put(root, "proc/meminfo", "MemAvailable: 90000 kB\n")
    assert looked(root)["memory"].health is Health.NOTE


@pytest.mark.parametrize(("free_mb", "health"), [(20, Health.BAD), (200, Health.NOTE), (900, Health.GOOD)])
def test_a_full_disk_is_told(
    root: Path, free_mb: int, health: Health, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Usage:
        free = free_mb * 10**6

    monkeypatch.setattr(computer.shutil, "disk_usage", lambda _: Usage)
    assert looked(root)["disk"].health is health


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write everywhere")
def test_a_folder_that_may_not_be_written_is_told(root: Path) -> None:
    folder = root / "closed"
    folder.mkdir(mode=0o500)
    assert looked(root, records=folder / "records")["records"].health is Health.BAD


def test_records_below_a_file_are_told(root: Path) -> None:
    put(root, "file", "in the way")
    found = looked(root, records=root / "file" / "records")["records"]
    assert found.health is Health.BAD
    assert "--data" in found.mend


def test_a_clock_before_the_program_was_made_is_wrong(root: Path) -> None:
    found = looked(root, now=datetime(1970, 1, 1, 0, 5, tzinfo=UTC))["clock"]
    assert found.health is Health.BAD
    assert "date -s" in found.mend


def test_a_clock_that_a_power_cut_stops_is_told_unless_the_network_sets_it(root: Path) -> None:
    (root / "dev/rtc0").unlink()
    assert looked(root)["clock"].health is Health.NOTE
    put(root, "run/systemd/timesync/synchronized", "")
    assert looked(root)["clock"].health is Health.GOOD


@pytest.mark.parametrize(("encoding", "health"), [("utf8", Health.GOOD), ("ANSI_X3.4-1968", Health.BAD)])
def test_a_terminal_that_cannot_show_every_name_is_told(root: Path, encoding: str, health: Health) -> None:
    assert looked(root, encoding=encoding)["characters"].health is health
