"""How fast everything is off, and how steady the heartbeat is while every core is busy.

A trip is timed from the call that tells of the stop input's edge to the end of the last output's write, with
a contact held and the unit supplied. Beside it: switching as many bare gpiozero outputs off on its mock pins.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from gpiozero import OutputDevice
from gpiozero.pins.mock import MockFactory

from hal.bench import Bench
from hal.simulated.bench import SimulatedBench
from tests.benchmarks.busy import busy_cores
from tests.benchmarks.figure import Figure, Reference, quantile
from tests.benchmarks.live import PROFILE, on_live_bench, output_lines, stamp_writes
from wiring.terms import Rail

_US, _MS = 1e6, 1e3
_PAUSE_S = 0.02  # lets caches cool, as between two commands
_REST_S = 0.05


def measure(*, quick: bool) -> Iterator[Figure]:
    """Measure the time of a trip and the jitter of the heartbeat."""
    trips_s = trip_times(2 if quick else 60)
    writes_s = _bare_writes(2 if quick else 60)
    for words, share in (("median", 0.5), ("longest", 1.0)):
        bare = Reference(f"{len(output_lines())} bare gpiozero writes", quantile(writes_s, share) * _US)
        yield Figure(
            f"trip, from edge to last output off: {words}", quantile(trips_s, share) * _US, "us", bare
        )
    boards_s = trip_times_through_board(2 if quick else 60)
    for words, share in (("median", 0.5), ("longest", 1.0)):
        bare = Reference(f"{len(output_lines())} bare gpiozero writes", quantile(writes_s, share) * _US)
        yield Figure(
            f"the same through a board's pins, from the kernel's edge: {words}",
            quantile(boards_s, share) * _US,
            "us",
            bare,
            note="pin factory and bindings of a board; below them a stand-in for the kernel",
        )
    for_s = 0.5 if quick else 30.0
    with busy_cores():
        late_s, tripped = _late_beats(for_s)
        sleeps_s = _late_sleeps(for_s)
    note = f"{len(late_s)} pulses; {_spare_s() * _MS:.0f} ms too late trips" + (
        ", AND DID" if tripped else ""
    )
    for words, share in (("median", 0.5), ("worst", 1.0)):
        plain = Reference("time.sleep with all cores busy", quantile(sleeps_s, share) * _MS)
        value_ms = quantile(late_s, share) * _MS
        yield Figure(f"heartbeat pulse too late, all cores busy: {words}", value_ms, "ms", plain, note=note)


def trip_times(count: int) -> list[float]:
    """Trip `count` times by the stop button; returns the seconds that each took."""

    async def job(bench: Bench, simulated: SimulatedBench) -> list[float]:
        written_s: list[float] = []
        told_s: list[float] = []
        stamp_writes(simulated, output_lines(), lambda _: written_s.append(time.monotonic()), after=True)
        _stamp_edges(simulated.pin_factory.pin(PROFILE.coil_supply.stop_button.line), told_s)
        return [await _one_trip(bench, simulated, told_s, written_s) for _ in range(count)]

    return on_live_bench(job)


def trip_times_through_board(count: int) -> list[float]:
    """The same where the edge comes out of a file descriptor, and the writes go through a board's bindings."""
    written_s: list[float] = []
    outputs = frozenset(output_lines())

    def driven(line: str, _: int | None) -> None:
        if line in outputs:
            written_s.append(time.monotonic())

    async def job(bench: Bench, simulated: SimulatedBench) -> list[float]:
        told_s: list[float] = []
        _stamp_edges(simulated.pin_factory.pin(PROFILE.coil_supply.stop_button.line), told_s)
        return [await _one_trip(bench, simulated, told_s, written_s) for _ in range(count)]

    return on_live_bench(job, through_board=driven)


async def _one_trip(
    bench: Bench, simulated: SimulatedBench, told_s: list[float], written_s: list[float]
) -> float:
    await bench.interlock.arm()
    await bench.nests[0].power_on()
    await bench.nests[0].hold_teach(Rail.PLUS, longest_s=5.0)
    await asyncio.sleep(_PAUSE_S)
    edges = len(told_s)
    simulated.world.coils.press_stop(True)
    await asyncio.sleep(_REST_S)
    took_s = written_s[-1] - told_s[edges]
    simulated.world.coils.press_stop(False)
    await asyncio.sleep(_REST_S)
    bench.interlock.reset()
    return took_s


def _stamp_edges(pin: Any, told_s: list[float]) -> None:
    tell = pin._tell_listener

    def stamped(ticks_s: float, level: int) -> None:
        told_s.append(time.monotonic())
        tell(ticks_s, level)

    pin._tell_listener = stamped


def _bare_writes(count: int) -> list[float]:
    factory = MockFactory()
    try:
        devices = [OutputDevice(line, pin_factory=factory) for line in output_lines()]
        return [_all_off_s(devices) for _ in range(count)]
    finally:
        factory.close()


def _all_off_s(devices: list[OutputDevice]) -> float:
    for device in devices:
        device.on()
    time.sleep(_PAUSE_S)
    start_s = time.monotonic()
    for device in devices:
        device.off()
    return time.monotonic() - start_s


def _late_beats(for_s: float) -> tuple[list[float], bool]:
    """How late each pulse came, in seconds, and whether the last was so late that the bench tripped instead."""

    async def job(bench: Bench, simulated: SimulatedBench) -> tuple[list[float], bool]:
        rises_s: list[float] = []

        def note(level: int) -> None:
            if level:
                rises_s.append(time.monotonic())

        stamp_writes(simulated, [PROFILE.coil_supply.heartbeat.line], note)
        bench.interlock.on_trip.append(lambda _: note(1))
        await asyncio.sleep(for_s)
        return rises_s, bool(bench.interlock.causes)

    rises_s, tripped = on_live_bench(job)
    period_s = 2 * PROFILE.coil_supply.beat_s
    return [after - before - period_s for before, after in pairwise(rises_s)], tripped


def _late_sleeps(for_s: float) -> list[float]:
    period_s = 2 * PROFILE.coil_supply.beat_s
    late_s = []
    for _ in range(int(for_s / period_s)):
        due_s = time.monotonic() + period_s
        time.sleep(period_s)
        late_s.append(time.monotonic() - due_s)
    return late_s


def _spare_s() -> float:
    timing = PROFILE.coil_supply
    return 0.9 * timing.dropout_s - 2 * timing.beat_s
