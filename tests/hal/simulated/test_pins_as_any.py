"""Real gpiozero devices on the simulated pins, by the tests that every back end passes."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from hal.simulated.pins import SimulatedPins
from hal.simulated.timeline import Timeline
from tests.hal.pincontract import InputContract, OutputContract


@dataclass
class SimulatedRig:
    factory: SimulatedPins
    timeline: Timeline
    levels: list[int | None] = field(default_factory=list)
    pace_s: float = 0.0

    def drive(self, line: str, level: int) -> None:
        with self.timeline:
            self.factory.pin(line).drive(level)

    def driven(self, line: str) -> list[int | None]:
        assert line == "GPIO13"
        return self.levels


@asynccontextmanager
async def opened() -> AsyncIterator[SimulatedRig]:
    timeline = Timeline(asyncio.get_running_loop())
    rig = SimulatedRig(SimulatedPins(timeline), timeline)
    rig.factory.pin("GPIO13").connect(rig.levels.append, idle=0)
    yield rig
    rig.factory.close()


class TestOutputs(OutputContract):
    opened = staticmethod(opened)


class TestInputs(InputContract):
    opened = staticmethod(opened)
