"""A board for tests: the stand-in kernel, the real bindings, and the pins of the board above them."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Iterator, Mapping
from contextlib import asynccontextmanager, contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from unittest.mock import patch

from hal.board import chips, opening
from hal.board.chips import GpioChip, Place, find_chips
from hal.board.pins import BoardPins
from tests.hal.board.bindings import below_the_bindings
from tests.hal.board.kernel import Kernel
from wiring.profile import RigProfile


@contextmanager
def board(kernel: Kernel) -> Iterator[Kernel]:
    """Let this machine have the kernel's chips."""
    with TemporaryDirectory() as devices, below_the_bindings(kernel):
        for name in kernel.chips:
            (Path(devices) / name).touch()
        with patch.object(chips, "DEVICES", Path(devices)):
            yield kernel


def all_places() -> dict[str, Place]:
    """Every line of the board's first chip by its name."""
    chip: GpioChip = find_chips()[0]
    return {name: Place(chip, number) for number, name in enumerate(chip.names) if name}


@dataclass
class BoardRig:
    """Open pins on the stand-in kernel."""

    factory: BoardPins
    kernel: Kernel
    pace_s: float = 0.0

    def drive(self, line: str, level: int) -> None:
        self.kernel.drive(line, level)

    def driven(self, line: str) -> list[int | None]:
        return [level for name, level in self.kernel.history if name == line]


@asynccontextmanager
async def opened() -> AsyncIterator[BoardRig]:
    with board(Kernel()) as kernel:
        pins = BoardPins(all_places(), asyncio.get_running_loop())
        try:
            yield BoardRig(pins, kernel)
        finally:
            pins.close()


class NoWatcher:
    """Stands where the watcher would: a process of its own cannot see the kernel of this one."""

    def __init__(self, outputs: Mapping[Place, int]) -> None:
        self.outputs = outputs
        self.told: list[str] = []

    def wait_until_ready(self) -> None:
        self.told.append("ready")

    def tell_loss(self, *_: object) -> None:
        self.told.append("listening")

    def goodbye(self) -> None:
        self.told.append("goodbye")


async def open_pins_on(profile: RigProfile, tell: Callable[[str], object] = lambda _: None) -> BoardPins:
    """The pins of a profile, opened as the program does it, but for the watcher."""
    with patch.object(opening, "Watcher", NoWatcher):
        return opening.open_pins(profile, asyncio.get_running_loop(), tell)
