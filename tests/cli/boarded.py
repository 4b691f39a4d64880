"""The `teachrig` program on a board whose copper is the simulated bench; tells every level that its outputs take.

Run as `python -m tests.cli.boarded run ...`, with the words of the command. Only the kernel, the units and the person
are made up: finding, claiming, edges and giving back are the board's own.
"""

from __future__ import annotations

import asyncio
import sys
from collections.abc import Callable
from contextlib import ExitStack

import hal.board
from hal.bench import Bench
from hal.simulated import simulate
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.truths import PersonTruth
from rig.cli.main import main
from tests.hal.board.copper import board_pins
from tests.hal.signalled import ACTIVE, say
from wiring.profile import RigProfile

QUICK = BenchFile(
    title="Sound units and somebody quick",
    endless=True,
    person=PersonTruth(reaction_s=0.1, fit_s=0.4),
    unit=(UnitRow(kind="barrel-18-rail"),),
)


def told(line: str, level: int | None) -> None:
    say(f"{line} {'released' if level is None else 'on' if level == ACTIVE[line] else 'off'}")


def put_on_board(stack: ExitStack) -> None:
    """Let a board profile open a board that is wired to simulated units and a simulated person."""
    opened = hal.board.open_board_bench

    async def open_board_bench(
        profile: RigProfile, tell: Callable[[str], object], *, wake_early_s: float = 0.0
    ) -> Bench:
        simulated = simulate(profile, QUICK, asyncio.get_running_loop())
        pins = stack.enter_context(board_pins(simulated, profile, told=told, tell=tell))
        hal.board._pins = lambda *_: pins  # type: ignore[assignment]
        bench = await opened(profile, tell, wake_early_s=wake_early_s)
        simulated.person.attach(bench.operator)
        return bench

    hal.board.open_board_bench = open_board_bench


if __name__ == "__main__":
    with ExitStack() as stack:
        put_on_board(stack)
        code = main()
    sys.exit(code)
