"""The board's pins and the watcher on the kernel's own simulated GPIO chip, where there is one."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest

from hal.board.chips import Place, find_chips
from hal.board.claims import claim_input, held_by, look_at, release_all
from hal.board.kept import keeps_outputs
from hal.board.opening import safe_levels
from hal.errors import BenchInUse
from tests.hal.board.boards import open_pins_on
from tests.hal.board.gpiosim import KEEP, SimChip, needs_gpio_sim, opened, sim_chip
from tests.hal.board.held import PROFILE
from tests.hal.board.remote import ROOT
from tests.hal.board.test_watcher import is_gone, soon
from tests.hal.pincontract import InputContract, OutputContract

pytestmark = needs_gpio_sim
SAFE = safe_levels(PROFILE)


class TestOutputs(OutputContract):
    opened = staticmethod(opened)


class TestInputs(InputContract):
    opened = staticmethod(opened)


@pytest.fixture(params=["let-fall", "kept"])
def chip(request: pytest.FixtureRequest) -> Iterator[SimChip]:
    """A chip of each kind of driver, as far as the module knows both."""
    kept = request.param == "kept"
    if kept and not KEEP.exists():
        pytest.skip("this gpio-sim lets outputs fall")
    if KEEP.exists():
        KEEP.write_text(str(int(kept)))
    with sim_chip() as chip:
        yield chip


def place(chip: SimChip, number: int) -> Place:
    (found,) = (one for one in find_chips() if one.label == chip.label)
    return Place(found, number)


def test_whether_outputs_are_kept_is_found_out(chip: SimChip) -> None:
    kept = KEEP.exists() and KEEP.read_text().strip() == "1"
    if KEEP.exists():
        assert keeps_outputs(place(chip, 13), 1) is kept
        assert look_at(place(chip, 13)).is_output is kept
        assert chip.level("GPIO13") == int(kept)


def test_a_busy_line_is_refused_by_the_name_of_its_holder(chip: SimChip) -> None:
    held = claim_input(place(chip, 16), "down")
    try:
        assert held_by(place(chip, 16)) == f"teachrig {os.getpid()}"

        async def main() -> None:
            with pytest.raises(
                BenchInUse, match=rf"GPIO16 \(line 16 of .*\) is held by teachrig {os.getpid()}"
            ):
                await open_pins_on(PROFILE)

        asyncio.run(main())
    finally:
        release_all({place(chip, 16): held})


def test_a_killed_program_leaves_no_output_on(chip: SimChip) -> None:
    program = [sys.executable, "-m", "tests.hal.board.held", "wait"]
    run = subprocess.Popen(program, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    try:
        assert run.stdout is not None
        watcher = int(run.stdout.readline().split()[1])
        assert run.stdout.readline() == "ready\n"
        assert {line: chip.level(line) for line in SAFE} == {line: 1 - level for line, level in SAFE.items()}
        began_s = time.monotonic()
        run.send_signal(signal.SIGKILL)
        assert soon(lambda: {line: chip.level(line) for line in SAFE} == SAFE)
        print(f"outputs off {(time.monotonic() - began_s) * 1e3:.1f} ms after SIGKILL")
        assert soon(lambda: is_gone(watcher))
        assert {held_by(place(chip, int(line.removeprefix("GPIO")))) for line in SAFE} == {None}
    finally:
        run.kill()
        run.communicate()
