"""Cables that were exchanged, and ports with nothing behind them, are named."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable

import pytest

from hal.errors import InstrumentError
from hal.instruments.distance import DistanceGauge
from hal.instruments.foreign import sounds_like
from hal.instruments.stage import StageDrive
from hal.instruments.supply import ScpiSupply
from hal.instruments.wire import Wire
from hal.simulated.clock import run
from hal.simulated.instrument import LineInstrument
from hal.simulated.instruments import SimulatedGauge, SimulatedSupply, SimulatedWire
from hal.simulated.stage import SimulatedStage
from hal.simulated.timeline import Timeline
from wiring.profile import GaugeProfile

MOUNTED = GaugeProfile(port="gauge")


class Echo(LineInstrument):
    """A loose cable whose end crosses send and receive."""

    def receive(self, data: bytes) -> None:
        self.transmit(data, 0.0)

    def obey(self, line: str) -> None: ...


class Silent(LineInstrument):
    def obey(self, line: str) -> None: ...


class Seen:
    silent = False

    def seen_mm(self) -> float:
        return 400.0


DRIVERS: dict[str, Callable[[Wire], Awaitable[object]]] = {
    "supply": lambda wire: ScpiSupply(wire, voltage_v=24.0, current_limit_a=0.25).start(),
    "stage": lambda wire: StageDrive(wire, speed_mm_s=1000.0, farthest_mm=2000.0).start(),
    "gauge": lambda wire: DistanceGauge(wire, MOUNTED).start(),
}


@pytest.fixture
def there(loaded_supply, make_rail) -> dict[str, Callable[[], LineInstrument]]:
    return {
        "supply": lambda: SimulatedSupply(loaded_supply),
        "stage": lambda: SimulatedStage(make_rail(), travel_mm=2000.0, speed_mm_s=1000.0),
        "gauge": lambda: SimulatedGauge(Seen(), MOUNTED),
    }


async def start(driver: str, instrument: LineInstrument) -> float:
    loop = asyncio.get_running_loop()
    begun_s = loop.time()
    wire = SimulatedWire(Timeline(loop), "ttyX", instrument, baud=9600)
    try:
        await DRIVERS[driver](wire)
    finally:
        assert loop.time() - begun_s < 12.0
    return loop.time() - begun_s


@pytest.mark.parametrize("driver", DRIVERS)
@pytest.mark.parametrize("other", DRIVERS)
def test_an_instrument_at_the_port_of_another_is_named(there, driver, other):
    async def main():
        if driver == other:
            assert await start(driver, there[other]()) < 0.5
            return
        with pytest.raises(InstrumentError, match=f"{driver} at ttyX: .*answers like a {other}") as wrong:
            await start(driver, there[other]())
        assert "exchanged" in wrong.value.check

    run(main())


@pytest.mark.parametrize("driver", DRIVERS)
def test_an_echo_is_no_answer_and_is_named(driver):
    async def main():
        with pytest.raises(InstrumentError, match="only its echo came back"):
            await start(driver, Echo())

    run(main())


@pytest.mark.parametrize("driver", DRIVERS)
def test_a_port_with_nothing_behind_is_silent(driver):
    async def main():
        with pytest.raises(InstrumentError, match=f"{driver} at ttyX: no answer to"):
            await start(driver, Silent())

    run(main())


@pytest.mark.parametrize("line", ["", "24.000", "hello", "1", "#\\x00"])
def test_what_may_be_anything_is_nothing(line):
    assert sounds_like(line) is None
