"""A bench without hardware: relays, wires, air, sound and units as physics behind the pins and the ports.

    bench = simulate(profile, bench_file, loop)
    hal = await open_bench(profile, bench.pin_factory, bench.wires)
    bench.person.attach(hal.operator)

It shares no knowledge with the sequences: a simulated unit knows its wire, its echo and its clock. It runs on
a `clock.JumpingLoop`, where a minute takes a moment, or on any other loop in real time.
"""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench
    from hal.simulated.benchfile import BenchFile
    from wiring.profile import RigProfile


def simulate(profile: RigProfile, bench_file: BenchFile, loop: asyncio.AbstractEventLoop) -> SimulatedBench:
    """Build the bench that `profile` describes and `bench_file` furnishes, on the clock of `loop`.

    Raises `DataFileError` where the two do not fit: a fault of a nest or relay that the rig does not have, or
    a row of units that leaves the kind to an order that was not filled in (`BenchFile.as_ordered`).
    """
    from hal.simulated.bench import make_bench  # a board's program reads bench files, but builds no bench

    return make_bench(profile, bench_file, loop)
