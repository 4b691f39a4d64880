"""The simulated bench in real time, on an engine's thread, for benchmarks that look at the clock."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable, Iterable
from contextlib import AsyncExitStack
from typing import Any, TypeVar

from gpiozero.pins import Factory

from hal.bench import Bench, open_bench
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, UnitRow
from rig.engine import WAKE_EARLY_S, Engine
from rig.library import Library
from tests.hal.board.copper import board_pins
from wiring.profile import RigProfile

T = TypeVar("T")

PROFILE: RigProfile = Library(None).read_rig("simulated")


Driven = Callable[[str, int | None], object]
"""Told of a line of a board, and of the level that it is driven to from now on."""


def on_live_bench(
    job: Callable[[Bench, SimulatedBench], Awaitable[T]], *, through_board: Driven | None = None
) -> T:
    """Open the bench as a session does, with a unit in its nest, armed; do `job` on it and return its result.

    With `through_board` its lines are those of a board: pin factory, bindings, file descriptors; below the bindings a
    stand-in for the kernel.
    """

    async def run(engine: Engine[T]) -> T:
        holds = BenchFile(title="benchmark", unit=(UnitRow(kind="barrel-18-rail"),))
        simulated = simulate(PROFILE, holds, asyncio.get_running_loop())
        async with AsyncExitStack() as stack:
            pins: Factory = simulated.pin_factory
            if through_board is not None:
                pins = stack.enter_context(board_pins(simulated, PROFILE, told=through_board))
            opening = open_bench(PROFILE, pins, simulated.wires, wake_early_s=WAKE_EARLY_S)
            bench = await stack.enter_async_context(await opening)
            engine.holds(bench)
            simulated.next_unit()
            await bench.interlock.arm()
            return await job(bench, simulated)

    return Engine(run).start().result()


def output_lines() -> list[str]:
    """Every output of the profile."""
    nest = PROFILE.nest[0]
    lines = (PROFILE.coil_supply.heartbeat, PROFILE.target.swing, nest.supply, nest.load, *nest.teach_relays)
    return [line.line for line in lines if line is not None]


def stamp_writes(
    simulated: SimulatedBench, lines: Iterable[str], note: Callable[[int], None], *, after: bool = False
) -> None:
    """Call `note(level)` just before each write to one of `lines`, or just after it."""
    for line in lines:
        _stamp(simulated.pin_factory.pin(line), note, after)


def _stamp(pin: Any, note: Callable[[int], None], after: bool) -> None:
    write = pin._set_state

    def stamped(level: Any) -> None:
        if not after:
            note(int(level))
        write(level)
        if after:
            note(int(level))

    pin._set_state = stamped
