"""Ties the stand-in kernel to the simulated bench: what the kernel drives moves the relays, what they do is an edge."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial

from gpiod import _ext

from hal.board import opening
from hal.board.pins import BoardPins
from hal.simulated.bench import SimulatedBench
from hal.simulated.pins import SimulatedPins
from tests.hal.board.boards import NoWatcher, board
from tests.hal.board.kernel import Kernel
from wiring.profile import RigProfile

_PULLS = {_ext.BIAS_PULL_UP: "up", _ext.BIAS_PULL_DOWN: "down", _ext.BIAS_DISABLED: "floating"}
NS = 1_000_000_000


class Copper:
    """Solders each line of a kernel's chip to the simulated line of the same name."""

    def __init__(self, kernel: Kernel, pins: SimulatedPins) -> None:
        self._kernel, self._pins = kernel, pins
        self._listeners: list[Callable[[float, int], None]] = []
        kernel.on_output.append(self._driven)
        kernel.on_bias.append(self._biased)
        for line in kernel.chips["gpiochip0"].lines[2:]:
            pin = pins.pin(line.name)
            line.outside = partial(getattr, pin, "state")

            def told(at_s: float, level: int, line: object = line) -> None:
                kernel.edge(line, level, round(at_s * NS))  # type: ignore[arg-type]

            self._listeners.append(told)  # the pin holds it by a weak reference
            pin.when_changed = told

    def _driven(self, number: int, level: int | None) -> None:
        pin = self._pins.pin(number)
        if level is not None:
            pin.output_with_state(level)
        else:
            listener = pin.when_changed
            pin.close()
            pin.when_changed = listener

    def _biased(self, number: int, bias: int) -> None:
        pin = self._pins.pin(number)
        if pin.function == "input" and not pin.info.pull:
            pin.pull = _PULLS[bias]


@contextmanager
def board_pins(
    simulated: SimulatedBench,
    profile: RigProfile,
    *,
    told: Callable[[str, int | None], object] | None = None,
    tell: Callable[[str], object] = lambda _: None,
) -> Iterator[BoardPins]:
    """The board's pins in front of a simulated bench, on the clock of the running loop.

    `told` hears of every level that an output is driven to, and of None as it is let go of; `tell` of what was found.
    """
    loop = asyncio.get_running_loop()
    kernel = Kernel(clock_ns=lambda: round(loop.time() * NS))
    if told is not None:
        kernel.on_output.append(lambda number, level: told(f"GPIO{number}", level))
    with board(kernel):
        Copper(kernel, simulated.pin_factory)
        # The test's loop keeps the time of this kernel too.
        opening_pins = partial(BoardPins, kernel_time=loop.time)
        original = opening.Watcher, opening.BoardPins
        opening.Watcher, opening.BoardPins = NoWatcher, opening_pins  # type: ignore[misc, assignment]
        try:
            pins = opening.open_pins(profile, loop, tell)
        finally:
            opening.Watcher, opening.BoardPins = original  # type: ignore[misc]
        yield pins
