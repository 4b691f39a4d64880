"""The air as the probe of a rig measures it before an order is planned, in place of the air that was typed in."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

from hal.air import AirReading
from wiring.profile import RigProfile

if TYPE_CHECKING:
    from hal.simulated.benchfile import BenchFile


def in_measured_air(profile: RigProfile, bench_file: BenchFile | None) -> RigProfile:
    """The rig in the air that its probe measures now; as it is where no probe is fitted.

    How far the air may be off stays what the profile says: it covers the probe's error, and how far the air may
    drift until the order is done. The port is free again on return. Raises BenchError when the probe cannot be read.
    """
    if profile.air.probe is None:
        return profile
    # On a thread of its own: whoever asks may be in the midst of an event loop, as the screen is.
    with ThreadPoolExecutor(1, "air") as apart:
        air = apart.submit(_read, profile, bench_file).result()
    measured = {"temperature_c": air.temperature_c, "humidity_percent": air.humidity_percent}
    return profile.model_copy(update={"air": profile.air.model_copy(update=measured)})


def _read(profile: RigProfile, bench_file: BenchFile | None) -> AirReading:
    if bench_file is None:
        return asyncio.run(_on_board(profile))
    from hal.simulated.clock import run

    return run(_simulated(profile, bench_file))


async def _on_board(profile: RigProfile) -> AirReading:
    from hal.instruments.probe import start_air
    from hal.instruments.wire import open_port

    probe = profile.air.probe
    assert probe is not None, "asked only where a probe is fitted"
    wire = open_port(probe.port, probe.baud, probe.parity)
    try:
        return await (await start_air(profile.air, {probe.port: wire})).read()
    finally:
        wire.close()


async def _simulated(profile: RigProfile, bench_file: BenchFile) -> AirReading:
    from hal.instruments.probe import start_air
    from hal.simulated.bench import probe_wires

    wires = probe_wires(profile, bench_file, asyncio.get_running_loop())
    return await (await start_air(profile.air, wires)).read()
