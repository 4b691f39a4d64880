"""The stage moves the plate by itself, and only while no hand can be in its way."""

from __future__ import annotations

import asyncio

import pytest

from hal.errors import InstrumentError, Refused, Tripped
from hal.interlock import causes
from hal.interlock.rules import Condition
from hal.simulated.clock import run


def test_the_plate_really_goes_where_it_should(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(750.0)
            assert (bench.plate.true_mm, bench.plate.in_beam, bench.plate.moving) == (750.0, True, False)
            await bench.target.clear()
            assert not bench.plate.in_beam
            await bench.target.move_to(500.0)
            assert (bench.plate.true_mm, bench.plate.in_beam) == (500.0, True)

    run(main())


def test_a_move_takes_distance_over_speed_and_then_settles(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(500.0)
            started = bench.loop.time()
            await bench.target.move_to(2500.0)
            took_s = bench.loop.time() - started
            assert took_s == pytest.approx(2.0 + profiles.stage.settle_s, abs=0.02)

    run(main())


def test_after_clear_a_short_move_still_waits_for_the_swing(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(500.0)
            await bench.target.clear()
            started = bench.loop.time()
            await bench.target.move_to(501.0)
            assert (
                bench.loop.time() - started >= profiles.stage.swing_s + profiles.stage.swing.settle_s - 1e-9
            )

    run(main())


def test_nothing_moves_while_hands_may_be_in_the_nest(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage, armed=False) as bench:
            with pytest.raises(Refused, match="hands may be in the nest"):
                await bench.target.move_to(500.0)
            assert bench.interlock.condition is Condition.TRIPPED
            with pytest.raises(Tripped):
                await bench.target.move_to(500.0)
            assert bench.plate.position_mm() == 0.0

    run(main())


def test_a_trip_stops_the_plate_at_once(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(500.0)
            bench.loop.call_later(1.0, bench.interlock.trip, causes.asked("a test"))
            with pytest.raises(Tripped):
                await bench.target.move_to(5000.0)
            await asyncio.sleep(0.1)
            assert bench.plate.true_mm == pytest.approx(1500.0, abs=10.0)
            assert not bench.plate.moving
            assert bench.target.position_mm is None

    run(main())


def test_after_a_reset_it_works_again(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            bench.loop.call_later(0.5, bench.interlock.trip, causes.asked("a test"))
            with pytest.raises(Tripped):
                await bench.target.move_to(5000.0)
            bench.interlock.reset()
            await bench.interlock.arm()
            await bench.target.move_to(400.0)
            assert bench.plate.true_mm == 400.0

    run(main())


def test_a_pulled_plug_ends_the_move(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(500.0)
            bench.loop.call_later(0.5, bench.wire.unplug)
            with pytest.raises(InstrumentError, match="unplugged"):
                await bench.target.move_to(5000.0)
            assert bench.target.position_mm is None

    run(main())
