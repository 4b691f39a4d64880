"""Signals really sent to an order in real time, in the middle of a contact: everything off, released, recorded."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

from hal.board.opening import safe_levels
from rig.events import BenchTripped, OrderEnded, UnitJudged
from rig.journal import read_journal
from tests.hal.signalled import ACTIVE
from tests.patient import write_patient_rig
from tests.rig.recorded import locked
from wiring.profile import find_profile, load_profile

ROOT = Path(__file__).parents[2]
CONTACT, SUPPLY, HEARTBEAT = "GPIO13", "GPIO16", "GPIO4"
BACK_ENDS = ("simulated", "board")
CODES = {signal.SIGINT: 130, signal.SIGTERM: 143, signal.SIGHUP: 129}

QUICK_PERSON = """
title = "Sound units and somebody quick"
endless = true
person = { reaction_s = 0.1, fit_s = 0.4 }
[[unit]]
"""

# A board without instruments on serial ports.
BOARD = re.sub(
    r"(?m)^port =.*$",
    "",
    find_profile("single-nest")
    .read_text(encoding="utf-8")
    .replace('"scpi"', '"fixed"')
    .replace("dropout_s = 0.2\n", "dropout_s = 1.0\n"),
)


@dataclass
class Program:
    """An order under way."""

    process: subprocess.Popen[str]
    journal: Path

    def read_until(self, line: str) -> None:
        assert self.process.stdout is not None
        for one in self.process.stdout:
            if one.strip() == line:
                return
        raise AssertionError(f"ended early with {self.process.wait()}: {self.process.communicate()[1]}")


def start(folder: Path, back_end: str = "simulated") -> Program:
    program = ["tests.cli.boarded" if back_end == "board" else "tests.cli.watched", "run", "tipper-point-no"]
    bench, rig = folder / "quick.toml", folder / "rig.toml"
    bench.write_text(QUICK_PERSON)
    where = ["--rig", str(rig)]
    if back_end == "board":
        rig.write_text(BOARD)
    else:
        write_patient_rig(rig)
        where += ["--real-time", "--bench", str(bench)]
    process = subprocess.Popen(
        [sys.executable, "-m", *program, *where, "--data", str(folder)],
        cwd=ROOT,
        env={**os.environ, "TEACHRIG_HOME": str(folder), "COLUMNS": "80"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    return Program(process, folder / "journal.sqlite3")


@pytest.fixture(scope="module")
def programs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[tuple[str, signal.Signals], Program]]:
    """One program for each signal and back end, started together: they spend their time waiting."""
    running = {
        (back_end, number): start(tmp_path_factory.mktemp(number.name), back_end)
        for back_end in BACK_ENDS
        for number in CODES
    }
    yield running
    for program in running.values():
        program.process.kill()
        program.process.communicate()


@pytest.mark.parametrize("back_end", BACK_ENDS)
@pytest.mark.parametrize("number", CODES)
def test_a_signal_in_the_middle_of_a_contact(
    number: signal.Signals, back_end: str, programs: dict[tuple[str, signal.Signals], Program]
) -> None:
    program = programs[back_end, number]
    program.read_until(f"{CONTACT} on")
    program.process.send_signal(number)
    out, err = program.process.communicate(timeout=60)
    assert program.process.returncode == CODES[number]

    # Off, then released, and nothing comes on again; the heartbeat may have been about to rise.
    lines = [line.strip() for line in out.splitlines()]
    for pin in ACTIVE if back_end == "simulated" else safe_levels(load_profile(find_profile("single-nest"))):
        words = [line.partition(" ")[2] for line in lines if line.startswith(f"{pin} ")]
        assert words[-1] == "released", pin
        assert "off" in words, pin
        assert "on" not in words[words.index("off") :] or pin == HEARTBEAT, pin
    first_released = next(index for index, line in enumerate(lines) if line.endswith(" released"))
    assert not any(line.endswith(" on") for line in lines[first_released:])

    # Told to the person and to the record: the unit in work is undecided, nothing else is said of it.
    stopped = f"stopped by {number.name}"
    assert f"TRIPPED, everything is off: {stopped}" in err
    assert "Traceback" not in err
    assert any(f"? undecided: interrupted: {stopped}" in line for line in lines)
    assert f"0 good, 0 bad, 1 undecided, 11 not begun; ended early: {stopped}" in lines
    events = [one.event for one in read_journal(program.journal)]
    (judged,) = [one for one in events if isinstance(one, UnitJudged)]
    assert (judged.verdict, judged.reason) == ("undecided", "interrupted")
    assert [one.cause for one in events if isinstance(one, BenchTripped)] == ["asked"]
    assert isinstance(events[-1], OrderEnded)


def test_a_second_signal_does_not_wait_for_a_disk_that_does_not_answer(tmp_path: Path) -> None:
    program = start(tmp_path)
    try:
        program.read_until(f"{SUPPLY} on")
        with locked(program.journal):
            program.process.send_signal(signal.SIGINT)
            program.read_until(f"{SUPPLY} off")
            time.sleep(0.5)
            assert program.process.poll() is None, "the record is worth waiting for"
            program.process.send_signal(signal.SIGINT)
            began_s = time.monotonic()
            _, err = program.process.communicate(timeout=60)
            assert time.monotonic() - began_s < 20.0
        assert program.process.returncode == 130
        assert "stopped by SIGINT; relays off, but the end of the record may be missing" in err
        assert "Traceback" not in err
    finally:
        with suppress(ProcessLookupError):
            program.process.kill()
        program.process.communicate()
