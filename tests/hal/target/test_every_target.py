"""What a plan may rely on, whoever moves the target: the same tests for every kind."""

from __future__ import annotations

import asyncio
import math

import pytest

from hal.errors import Tripped
from hal.simulated.clock import run
from hal.target import OutOfReach
from wiring.profile import TargetKind

KINDS = ("manual", "slots", "stage")


@pytest.fixture(params=KINDS)
def profile(request, profiles):
    return getattr(profiles, request.param)


def test_it_is_where_it_was_sent(profile, bench_of):
    async def main():
        async with bench_of(profile) as bench:
            assert bench.target.position_mm is None
            for position_mm in (250.0, 100.0, 400.0):
                await bench.target.move_to(position_mm)
                assert bench.target.position_mm == position_mm

    run(main())


def test_after_clear_it_is_nowhere(profile, bench_of):
    async def main():
        async with bench_of(profile) as bench:
            await bench.target.move_to(250.0)
            await bench.target.clear()
            assert bench.target.position_mm is None
            await bench.target.move_to(250.0)
            assert bench.target.position_mm == 250.0

    run(main())


def test_cover_brings_it_to_the_face(profile, bench_of):
    async def main():
        async with bench_of(profile) as bench:
            await bench.target.cover()
            assert bench.target.position_mm == 0.0
            await bench.target.clear()
            assert bench.target.position_mm is None

    run(main())


@pytest.mark.parametrize("position_mm", [-1.0, 9999.0, math.nan, math.inf])
def test_a_position_out_of_reach_is_refused_before_anything_moves(profile, bench_of, position_mm):
    async def main():
        async with bench_of(profile) as bench:
            await bench.target.move_to(250.0)
            asked = len(bench.requests)
            with pytest.raises(OutOfReach, match="the target reaches from"):
                await bench.target.move_to(position_mm)
            assert bench.target.position_mm == 250.0
            assert len(bench.requests) == asked

    run(main())


def test_its_reach_is_where_it_can_go(profile, bench_of):
    async def main():
        async with bench_of(profile) as bench:
            for end_mm in bench.target.reach_mm:
                await bench.target.move_to(end_mm)
                assert bench.target.position_mm == end_mm

    run(main())


def test_a_trip_ends_a_move(profile, bench_of):
    async def main():
        async with bench_of(profile) as bench:
            await bench.target.move_to(100.0)
            bench.act = lambda _request: None
            bench.loop.call_later(0.1, bench.trip)
            with pytest.raises(Tripped, match="a test"):
                await bench.target.move_to(400.0)
            assert bench.target.position_mm != 400.0

    run(main())


def test_a_cancelled_move_leaves_only_what_a_switch_proves(profile, bench_of):
    async def main():
        async with bench_of(profile) as bench:
            await bench.target.move_to(100.0)
            bench.act = lambda _request: None
            move = asyncio.create_task(bench.target.move_to(250.0))
            await asyncio.sleep(0.1)
            move.cancel()
            with pytest.raises(asyncio.CancelledError):
                await move
            assert bench.target.position_mm == (100.0 if profile.kind is TargetKind.SLOTS else None)

    run(main())
