"""The micro-switch, not the person's word, tells where the target is."""

from __future__ import annotations

import asyncio

import pytest

from hal.errors import NoAnswer
from hal.operator import Request, RequestKind
from hal.simulated.clock import run
from hal.target import OutOfReach


def follow(bench, *acts):
    """Let the person do these in turn, one for each request."""
    left = list(acts)
    bench.act = lambda _request: left.pop(0)()


def test_the_switch_confirms_without_a_done(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            follow(bench, lambda: bench.put_in_slot(2))
            await bench.target.move_to(250.0)
            (request,) = bench.requests
            assert (request.kind, request.slot, request.position_mm) == (RequestKind.PLACE_TARGET, 2, 250.0)
            assert request.text == "Put the target into slot 2 (250 mm)."

    run(main())


def test_a_wrong_slot_is_named(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            follow(bench, lambda: bench.put_in_slot(3), lambda: bench.put_in_slot(2))
            await bench.target.move_to(250.0)
            second = bench.requests[1]
            assert second.text == "The target is in slot 3. Put the target into slot 2 (250 mm)."
            assert second.slot == 2

    run(main())


def test_done_without_a_switch_is_not_believed(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            follow(bench, bench.operator.done, lambda: bench.put_in_slot(1))
            await bench.target.move_to(100.0)
            assert bench.requests[1].text.startswith("No slot switch is closed.")

    run(main())


def test_two_closed_switches_are_not_believed(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            bench.drive("GPIO9", 1)
            await asyncio.sleep(0.1)
            follow(bench, lambda: bench.drive("GPIO10", 1), lambda: None)
            with pytest.raises(NoAnswer):
                await bench.target.move_to(250.0)
            assert "slots 1, 2 are closed together" in bench.requests[-1].text
            assert bench.target.position_mm is None

    run(main())


def test_a_bouncing_switch_counts_once_it_is_quiet(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:

            def bounce() -> None:
                for number in range(9):
                    bench.loop.call_later(number * 0.002, bench.drive, "GPIO10", 1 - number % 2)

            follow(bench, bounce)
            started = bench.loop.time()
            await bench.target.move_to(250.0)
            assert bench.loop.time() - started >= 1.0 + 0.016 + 0.03 - 1e-6

    run(main())


def test_a_target_that_is_there_already_needs_no_asking(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            bench.put_in_slot(2)
            await asyncio.sleep(0.1)
            await bench.target.move_to(250.0)
            assert bench.requests == []

    run(main())


def test_a_target_knocked_out_of_its_slot_has_no_position(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            await bench.target.move_to(250.0)
            bench.put_in_slot(None)
            await asyncio.sleep(0.1)
            assert bench.target.position_mm is None

    run(main())


def test_clear_is_not_believed_while_a_slot_holds_the_target(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            await bench.target.move_to(250.0)

            def take_out() -> None:
                bench.put_in_slot(None)
                bench.loop.call_later(0.1, bench.operator.done)

            follow(bench, bench.operator.done, take_out)
            await bench.target.clear()
            assert bench.requests[-1].text == "The target is in slot 2. Take everything out of the beam."

    run(main())


def test_a_position_between_slots_is_refused_with_the_nearest_slot(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            with pytest.raises(OutOfReach, match="no slot at 300 mm; the nearest is slot 2 at 250 mm"):
                await bench.target.move_to(300.0)

    run(main())


def test_a_switch_answers_no_request_but_its_own(profiles, bench_of):
    async def main():
        async with bench_of(profiles.slots) as bench:
            bench.act = lambda _request: None
            other = asyncio.create_task(bench.operator.ask(Request(RequestKind.REMOVE_UNIT, "Take it out.")))
            await asyncio.sleep(0)
            mine = asyncio.create_task(bench.target.move_to(250.0))
            await asyncio.sleep(0.1)
            bench.put_in_slot(2)
            await asyncio.sleep(0.1)
            assert not other.done()
            bench.operator.done()
            await other
            await asyncio.sleep(0.1)
            bench.operator.done()
            await mine

    run(main())
