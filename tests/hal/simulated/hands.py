"""Hands on the pins: what the HAL does, without the HAL, so that the physics is tested by itself."""

from __future__ import annotations

import asyncio
from typing import Any

from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, Changes, UnitRow
from hal.simulated.clock import NS
from hal.simulated.faults import BenchFault, UnitFault
from hal.simulated.unit import Unit
from wiring.profile import InputLine, Level, OutputLine, RigProfile, find_profile, load_profile
from wiring.terms import Rail

SIMULATED = load_profile(find_profile("simulated"))


def bench_file(kind: str = "barrel-18-rail", *faults: UnitFault, **more: Any) -> BenchFile:
    change = Changes(**more.pop("change", {}))
    row = UnitRow(kind=kind, faults=faults, change=change, arrives=more.pop("arrives", None))
    rows = more.pop("unit", (row,))
    return BenchFile(title="test", unit=rows, **more)


class Hands:
    """Beats the heart, throws relays, moves the plate, reads inputs; all by pin."""

    def __init__(self, furnished: BenchFile, profile: RigProfile = SIMULATED) -> None:
        self.loop = asyncio.get_running_loop()
        self.profile = profile
        self.nest = profile.nest[0]
        self.bench: SimulatedBench = simulate(profile, furnished, self.loop)
        self.world = self.bench.world
        self.record = self.world.record
        self.world.supply.set_voltage(profile.supply.voltage_v)
        self.world.supply.set_limit(profile.supply.current_limit_a)
        self.world.supply.output(True)
        self._beating: asyncio.TimerHandle | None = None

    def output(self, line: OutputLine, on: bool) -> None:
        pin = self.bench.pin_factory.pin(line.line)
        level = int(on is (line.active is Level.HIGH))
        if pin.function == "output":
            pin.state = level
        else:
            pin.output_with_state(level)

    def relay(self, key: str, on: bool) -> None:
        self.output(getattr(self.nest, key), on)

    def input(self, key: str) -> bool:
        line = getattr(self.nest, key)
        return self.active(line)

    def active(self, line: InputLine) -> bool:
        return (self.bench.pin_factory.pin(line.line).state == 1) is (line.active is Level.HIGH)

    def beat(self, on: bool = True) -> None:
        self.output(self.profile.coil_supply.heartbeat, on)
        self._beating = self.loop.call_later(self.profile.coil_supply.beat_s, self.beat, not on)

    def stop_beating(self) -> None:
        if self._beating is not None:
            self._beating.cancel()

    async def power_up(self, wait_s: float = 0.5) -> Unit:
        """Fit the next unit and give it power."""
        unit = self.bench.next_unit()
        assert unit is not None
        if self._beating is None:
            self.beat()
        self.relay("supply", True)
        await asyncio.sleep(wait_s)
        return unit

    async def contact(self, rail: Rail, seconds: float) -> None:
        """Hold the teach wire to a rail, as a well-behaved program does."""
        self.relay("rail_selector", rail is Rail.PLUS)
        await asyncio.sleep(0.06)
        self.relay("teach_contact", True)
        await asyncio.sleep(seconds)
        self.relay("teach_contact", False)
        await asyncio.sleep(0.06)

    async def place(self, to_mm: float, settle_s: float = 0.6) -> None:
        target = self.world.target
        target.put_in_beam(True)
        target.start_move(to_mm, 1000.0, placement_mm=0.0)
        way_ns = target.path.end_ns - self.world.now_ns
        await asyncio.sleep(way_ns / NS + settle_s)

    async def clear(self, settle_s: float = 0.6) -> None:
        self.world.target.put_in_beam(False)
        await asyncio.sleep(settle_s)


__all__ = ["SIMULATED", "BenchFault", "Hands", "Rail", "UnitFault", "bench_file"]
