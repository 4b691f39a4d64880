"""A program with a live bench, to be ended from outside; tells on stdout every level that it writes.

Run as `python -m tests.hal.signalled engine|hung|loop [board]`: the bench on a thread of its own with signals caught
by the main thread, the same with that thread hung, or the bench and its signals on one loop; with `board`, through
the pins of a board.
"""

from __future__ import annotations

import asyncio
import os
import selectors
import signal
import sys
import threading
import time
from functools import partial

from hal.errors import TripCause, TripKind, Tripped
from hal.interlock.interlock import Interlock
from hal.interlock.outputs import OutputId
from hal.interlock.rules import Job
from hal.simulated.pins import SimulatedPin
from tests.hal import rigs
from tests.hal.rigs import SELECTOR, output_lines, rig
from tests.patient import patient
from wiring.terms import Rail

SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
ACTIVE = output_lines(SELECTOR)


def say(words: str) -> None:
    os.write(1, f"{words}\n".encode())


def tell_writes() -> None:
    write, close = SimulatedPin._set_state, SimulatedPin.close

    def written(pin: SimulatedPin, value: int) -> None:
        write(pin, value)
        say(f"{pin} {'on' if int(value) == ACTIVE[str(pin)] else 'off'}")

    def closed(pin: SimulatedPin) -> None:
        if str(pin) in ACTIVE:
            say(f"{pin} released")
        close(pin)

    SimulatedPin._set_state = written  # type: ignore[method-assign]
    SimulatedPin.close = closed  # type: ignore[method-assign]


def tell_board_writes() -> None:
    from tests.hal.board.copper import board_pins

    def told(line: str, level: int | None) -> None:
        say(f"{line} {'released' if level is None else 'on' if level == ACTIVE[line] else 'off'}")

    rigs.pins_of = partial(board_pins, told=told)


def asked(number: int) -> TripCause:
    return TripCause(TripKind.ASKED, f"ended by {signal.Signals(number).name}", "start again")


held: list[Interlock] = []


async def work(how: str) -> None:
    try:
        async with rig(patient(SELECTOR)) as opened:
            held.append(opened.interlock)
            if how == "loop":
                for number in SIGNALS:
                    opened.loop.add_signal_handler(number, opened.interlock.trip, asked(number))
            opened.interlock.command(OutputId(Job.SWING), True)
            await opened.nest.power_on()
            await opened.nest.pull_output(Rail.PLUS)
            await opened.nest.hold_teach(Rail.PLUS, longest_s=60.0)
            say("ready")
            if how == "hung":
                time.sleep(60)  # noqa: ASYNC251  # a program that hangs is the point
            await opened.nest.teach_released()
    except Tripped as tripped:
        say(f"tripped: {tripped}")


def run(how: str) -> None:
    with asyncio.Runner(loop_factory=lambda: asyncio.SelectorEventLoop(selectors.SelectSelector())) as runner:
        runner.run(work(how))


def main(how: str, back_end: str = "") -> None:
    tell_board_writes() if back_end == "board" else tell_writes()
    if how == "loop":
        run(how)
        return
    for number in SIGNALS:
        signal.signal(number, lambda number, _: held[0].trip(asked(number)))
    engine = threading.Thread(target=run, args=(how,), daemon=True)
    engine.start()
    while engine.is_alive():
        engine.join(0.05)


if __name__ == "__main__":
    main(*sys.argv[1:])
