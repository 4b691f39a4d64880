"""The stage moves the plate by itself, and only while no hand can be in its way."""

from __future__ import annotations

import asyncio

import pytest

from hal.errors import Refused, Tripped
from hal.interlock.rules import Condition
from hal.simulated.clock import run


def test_the_plate_really_goes_where_it_should(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(750.0)
            assert bench.plate.true_mm == pytest.approx(750.0, abs=profiles.stage.placement_mm)
            assert (bench.plate.in_beam, bench.plate.moving) == (True, False)
            await bench.target.clear()
            assert not bench.plate.in_beam
            await bench.target.move_to(500.0)
            assert bench.plate.true_mm == pytest.approx(500.0, abs=profiles.stage.placement_mm)
            assert bench.plate.in_beam

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


def test_from_clear_the_plate_enters_the_beam_only_where_it_is_wanted(profiles, bench_of):
    """A unit that sees it on its way may have switched, and hysteresis would keep it so."""

    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(100.0)
            await bench.target.clear()
            seen: list[float] = []
            bench.plate.on_change.append(
                lambda: bench.plate.in_beam and seen.append(bench.plate.position_mm())
            )
            await bench.target.move_to(900.0)
            assert set(seen) == {900.0}

    run(main())


def test_nothing_moves_while_hands_may_be_in_the_nest(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage, armed=False) as bench:
            with pytest.raises(Refused, match="hands may be in the nest"):
                await bench.target.move_to(500.0)
            assert bench.interlock.condition is Condition.TRIPPED
            with pytest.raises(Tripped):
                await bench.target.move_to(500.0)
            assert bench.plate.position_mm() == profiles.stage.farthest_mm  # where it stood

    run(main())


def test_a_trip_stops_the_plate_at_once(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(500.0)
            bench.loop.call_later(1.0, bench.trip)
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
            await bench.target.move_to(500.0)
            bench.loop.call_later(0.5, bench.trip)
            with pytest.raises(Tripped):
                await bench.target.move_to(5000.0)
            bench.interlock.reset()
            await bench.interlock.arm()
            await bench.target.move_to(400.0)
            assert bench.plate.true_mm == pytest.approx(400.0, abs=profiles.stage.placement_mm)

    run(main())


def test_a_pulled_plug_ends_the_move(profiles, bench_of):
    async def main():
        async with bench_of(profiles.stage) as bench:
            await bench.target.move_to(500.0)
            bench.loop.call_later(0.5, bench.wires["sim:stage"].unplug)
            with pytest.raises(Tripped, match="unplugged"):
                await bench.target.move_to(5000.0)
            assert bench.target.position_mm is None

    run(main())
