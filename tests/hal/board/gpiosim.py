"""A GPIO chip of the kernel's own simulator (gpio-sim), where there is one: real device files, real bindings.

It needs the module gpio-sim, configfs and root: `modprobe gpio-sim`, then run the tests as root. Everywhere else
the tests that use it are skipped and say so.
"""

from __future__ import annotations

import asyncio
import os
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest

from hal.board.chips import Place, find_chips
from hal.board.pins import BoardPins

CONFIG = Path("/sys/kernel/config/gpio-sim")
LINES = 28
# Only a module that was changed for it has this: it then goes on driving outputs, as some boards' drivers do.
KEEP = Path("/sys/module/gpio_sim/parameters/keep")

needs_gpio_sim = pytest.mark.skipif(
    not (CONFIG.is_dir() and os.access(CONFIG, os.W_OK)),
    reason="no gpio-sim here: it needs the kernel module gpio-sim, configfs and root",
)


@dataclass
class SimChip:
    """One live chip; its lines are called GPIO0 to GPIO27."""

    label: str
    lines: Path

    def drive(self, line: str, level: int) -> None:
        (self._line(line) / "pull").write_text("pull-up" if level else "pull-down")

    def level(self, line: str) -> int:
        return int((self._line(line) / "value").read_text())

    def driven(self, line: str) -> list[int | None]:
        return [self.level(line)]

    def _line(self, line: str) -> Path:
        return self.lines / f"sim_gpio{line.removeprefix('GPIO')}"


@contextmanager
def sim_chip() -> Iterator[SimChip]:
    """Make a chip, and take it away again."""
    label = f"teachrig-{os.getpid()}"
    chip = CONFIG / label
    bank = chip / "bank0"
    bank.mkdir(parents=True)
    (bank / "num_lines").write_text(str(LINES))
    (bank / "label").write_text(label)
    names = [bank / f"line{number}" for number in range(LINES)]
    for number, line in enumerate(names):
        line.mkdir()
        (line / "name").write_text(f"GPIO{number}")
    (chip / "live").write_text("1")
    try:
        device, name = (
            (path / key).read_text().strip() for path, key in ((chip, "dev_name"), (bank, "chip_name"))
        )
        yield SimChip(label, Path("/sys/devices/platform") / device / name)
    finally:
        (chip / "live").write_text("0")
        for folder in (*names, bank, chip):
            folder.rmdir()


@dataclass
class SimRig:
    """Open pins on a live chip."""

    factory: BoardPins
    chip: SimChip
    pace_s: float = 0.02

    def drive(self, line: str, level: int) -> None:
        self.chip.drive(line, level)

    def driven(self, line: str) -> list[int | None]:
        return self.chip.driven(line)


@asynccontextmanager
async def opened() -> AsyncIterator[SimRig]:
    with sim_chip() as chip:
        (found,) = (one for one in find_chips() if one.label == chip.label)
        places = {name: Place(found, number) for number, name in enumerate(found.names)}
        pins = BoardPins(places, asyncio.get_running_loop())
        try:
            yield SimRig(pins, chip)
        finally:
            pins.close()
