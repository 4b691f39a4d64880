"""A supply with a resistor on it and a stage on a rail: just enough physics to talk to."""

from __future__ import annotations

import asyncio

import pytest

from hal.simulated.clock import NS
from hal.simulated.timeline import Timeline


class LoadedSupply:
    """A supply with `load_ohm` across it; everything that was done to it is kept in `acts`."""

    def __init__(self, load_ohm: float = 800.0) -> None:
        self.load_ohm = load_ohm
        self.acts: list[tuple[str, float]] = []
        self.voltage_v = self.limit_a = 0.0
        self.on = False

    def set_voltage(self, voltage_v: float) -> None:
        self.voltage_v = voltage_v
        self.acts.append(("voltage", voltage_v))

    def set_limit(self, current_a: float) -> None:
        self.limit_a = current_a
        self.acts.append(("limit", current_a))

    def output(self, on: bool) -> None:
        self.on = on
        self.acts.append(("output", on))

    def measured(self) -> tuple[float, float]:
        wanted_a = self.voltage_v / self.load_ohm if self.on else 0.0
        current_a = min(wanted_a, self.limit_a)
        return current_a * self.load_ohm if self.on else 0.0, current_a


class Rail:
    """A stage that moves at a steady speed and, after `stuck_at_mm`, no further.

    `slowness` stretches the time of every move, `late_s` that of every answer.
    """

    def __init__(self, timeline: Timeline) -> None:
        self.slowness = 1.0
        self.late_s = 0.0
        self.stuck_at_mm = float("inf")
        self.moves: list[float] = []
        self._timeline = timeline
        self._from = self._to = 300.0
        self._start_ns = 0
        self._mm_per_ns = 0.0

    def position_mm(self) -> float:
        gone_mm = (self._timeline.now_ns - self._start_ns) * self._mm_per_ns
        way_mm = self._to - self._from
        at_mm = self._to if gone_mm >= abs(way_mm) else self._from + (gone_mm if way_mm > 0 else -gone_mm)
        return min(at_mm, self.stuck_at_mm)

    def start_move(self, to_mm: float, speed_mm_s: float) -> None:
        self.moves.append(to_mm)
        self._from, self._to, self._start_ns = self.position_mm(), to_mm, self._timeline.now_ns
        self._mm_per_ns = speed_mm_s / NS / self.slowness

    def stop(self) -> None:
        self._from = self._to = self.position_mm()
        self.moves.append(float("nan"))


@pytest.fixture
def make_rail():
    return lambda: Rail(Timeline(asyncio.get_running_loop()))


@pytest.fixture
def loaded_supply():
    return LoadedSupply()
