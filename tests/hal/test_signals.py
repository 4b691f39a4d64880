"""Signals really sent to a running program: every output off, then released."""

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.hal.rigs import SELECTOR
from tests.hal.signalled import ACTIVE, SIGNALS

ROOT = Path(__file__).parents[2]
BEAT = SELECTOR.coil_supply.heartbeat.line


def start(how: str) -> "subprocess.Popen[str]":
    program = subprocess.Popen(
        [sys.executable, "-m", "tests.hal.signalled", *how.split()],
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    )
    assert program.stdout is not None
    for line in program.stdout:
        if line.strip() == "ready":
            return program
    raise AssertionError(f"ended early with {program.wait()}")


def words_of(lines: list[str]) -> dict[str, list[str]]:
    words: dict[str, list[str]] = {line: [] for line in ACTIVE}
    for line in lines:
        pin, _, word = line.strip().partition(" ")
        if pin in words:
            words[pin].append(word)
    return words


@pytest.mark.parametrize("how", ["engine", "loop", "engine board"])
@pytest.mark.parametrize("number", SIGNALS)
def test_signal_ends_the_program_with_everything_off_and_released(how: str, number: signal.Signals) -> None:
    program = start(how)
    program.send_signal(number)
    out, _ = program.communicate(timeout=60)
    assert program.returncode == 0
    lines = out.splitlines()
    assert f"tripped: ended by {number.name}" in lines
    for pin, words in words_of(lines).items():
        assert "off" in words, pin
        assert words[-1] == "released", pin
        # The heartbeat may have risen once more before the signal came; nothing comes on after 'off'.
        assert "on" not in words[words.index("off") :] or pin == BEAT, pin
    first_released = next(index for index, line in enumerate(lines) if line.endswith("released"))
    last_on = max((index for index, line in enumerate(lines) if line.endswith(" on")), default=-1)
    assert last_on < first_released


@pytest.mark.parametrize("how", ["hung", "hung board"])
def test_signal_releases_the_relays_of_a_program_that_hangs(how: str) -> None:
    program = start(how)
    try:
        time.sleep(0.1)
        program.send_signal(signal.SIGTERM)
        assert program.stdout is not None
        waiting = set(ACTIVE)
        sent = time.monotonic()
        while waiting:
            pin, _, word = program.stdout.readline().strip().partition(" ")
            assert word != "on"
            waiting.discard(pin)
        assert time.monotonic() - sent < 20.0
    finally:
        program.kill()
        program.communicate()
