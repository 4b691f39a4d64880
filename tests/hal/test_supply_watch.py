"""A supply at its limit, or one that falls silent, opens the relays while a unit is worked on."""

from __future__ import annotations

import asyncio

import pytest

from hal.errors import TripKind
from hal.supply_watch import LOOK_S, watched
from tests.hal.rigs import kinds, rig, run

LIMIT_A = 0.25


class Supply:
    """Gives what it is told; `silent` raises what a driver raises."""

    identity = "told"

    def __init__(self, *currents_a: float | Exception | None) -> None:
        self.asked = 0
        self._currents_a = currents_a

    async def current_a(self) -> float | None:
        now = self._currents_a[min(self.asked, len(self._currents_a) - 1)]
        self.asked += 1
        if isinstance(now, Exception):
            raise now
        return now

    async def on(self) -> None: ...
    async def off(self) -> None: ...
    def off_now(self) -> None: ...
    async def voltage_v(self) -> float:
        return 24.0


def trips_of(supply: Supply, for_s: float = 5 * LOOK_S) -> list[TripKind]:
    async def main() -> list[TripKind]:
        async with rig() as opened:
            await opened.nest.power_on()
            async with watched(supply, LIMIT_A, opened.interlock):
                await asyncio.sleep(for_s)
            assert (
                not opened.interlock.causes or not opened.simulated.world.nests["A"].relays["supply"].closed
            )
            return kinds(opened)

    return run(main())


def test_at_its_limit_twice_in_a_row_is_a_trip() -> None:
    assert trips_of(Supply(0.03, 0.249)) == [TripKind.OVER_CURRENT]


def test_a_moment_of_inrush_is_none() -> None:
    assert trips_of(Supply(0.03, 0.249, 0.03)) == []


def test_a_supply_that_is_not_measured_is_not_looked_at_twice() -> None:
    assert trips_of(Supply(None)) == []


def test_a_supply_that_falls_silent_is_a_trip() -> None:
    from hal.errors import InstrumentError

    assert trips_of(Supply(0.03, InstrumentError("supply: no answer"))) == [TripKind.INSTRUMENT_LOST]


def test_what_the_program_cannot_explain_is_a_trip_too() -> None:
    assert trips_of(Supply(0.03, ZeroDivisionError())) == [TripKind.PROGRAM]


def test_it_ends_with_its_block() -> None:
    supply = Supply(0.03)

    async def main() -> None:
        async with rig() as opened:
            async with watched(supply, LIMIT_A, opened.interlock):
                await asyncio.sleep(2.5 * LOOK_S)
            asked = supply.asked
            await asyncio.sleep(5 * LOOK_S)
            assert supply.asked == asked == pytest.approx(2)

    run(main())
