"""Puts a simulated bench together."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass

from hal.instruments.wire import Wire
from hal.simulated.air import Air
from hal.simulated.benchfile import BenchFile
from hal.simulated.instruments import SimulatedWire, attach_instruments
from hal.simulated.person import Person
from hal.simulated.pins import SimulatedPins
from hal.simulated.probe import SimulatedProbe
from hal.simulated.timeline import Timeline
from hal.simulated.unit import Unit
from hal.simulated.world import World
from wiring.profile import RigProfile


@dataclass(frozen=True, slots=True)
class SimulatedBench:
    """What takes the place of the board: pins and wires for `open_bench`, and the world behind them.

    Call `person.attach(bench.operator)` once the bench is open, or put units in with `next_unit`.
    """

    pin_factory: SimulatedPins
    wires: Mapping[str, Wire]
    world: World
    person: Person

    def next_unit(self, nest: str | None = None) -> Unit | None:
        """Put the next unit of the row into a nest, without a person; None when there are no more."""
        return self.world.fit_next(nest)

    def remove_unit(self, nest: str | None = None) -> Unit | None:
        """Take the unit out of a nest, without a person."""
        return self.world.remove(nest)


def make_bench(profile: RigProfile, bench_file: BenchFile, loop: asyncio.AbstractEventLoop) -> SimulatedBench:
    """Build the bench that `profile` describes and `bench_file` furnishes, on the clock of `loop`."""
    world = World(loop, profile, bench_file)
    wires = attach_instruments(world, profile)
    person = Person(world, bench_file.person, bench_file.seed)
    return SimulatedBench(world.pins, wires, world, person)


def probe_wires(
    profile: RigProfile, bench_file: BenchFile, loop: asyncio.AbstractEventLoop
) -> dict[str, Wire]:
    """The wire of the air probe alone, for whoever only wants to know the air; none where none is fitted."""
    probe = profile.air.probe
    if probe is None:
        return {}
    timeline = Timeline(loop)
    feels = SimulatedProbe(Air(timeline, **bench_file.air.model_dump()), probe)
    return {probe.port: SimulatedWire(timeline, probe.port, feels, baud=probe.baud)}
