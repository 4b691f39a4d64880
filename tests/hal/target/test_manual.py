"""A person with a scale is told exactly what to do, and silence is an error."""

from __future__ import annotations

import pytest

from hal.errors import NoAnswer
from hal.operator import NumberRange, RequestKind
from hal.simulated.clock import run
from hal.target import OutOfReach
from hal.target.target import PATIENCE_S


def test_the_requests_say_what_to_do(profiles, bench_of):
    async def main():
        async with bench_of(profiles.manual) as bench:
            await bench.target.move_to(120.5)
            await bench.target.clear()
            await bench.target.cover()
            return bench.requests

    place, clear, cover = run(main())
    assert (place.kind, place.position_mm) == (RequestKind.PLACE_TARGET, 120.5)
    assert place.text == "Bring the target into the beam from the side, at 120.5 mm on the scale."
    assert (clear.kind, clear.position_mm) == (RequestKind.CLEAR_BEAM, None)
    assert (cover.kind, cover.position_mm) == (RequestKind.COVER_FACE, 0.0)


def test_a_target_in_the_beam_is_to_stay_in_it(profiles, bench_of):
    """Hysteresis shows only in a target that the unit goes on seeing."""

    async def main():
        async with bench_of(profiles.manual) as bench:
            for at_mm in (300.0, 320.0):
                await bench.target.move_to(at_mm)
            await bench.target.clear()
            await bench.target.move_to(340.0)
            return [request.text for request in bench.requests if request.position_mm is not None]

    from_side = "Bring the target into the beam from the side, at {} mm on the scale."
    slid = "Slide the target along the scale to 320 mm."
    assert run(main()) == [from_side.format(300), slid, from_side.format(340)]


def test_it_is_asked_again_even_for_the_same_place(profiles, bench_of):
    """Between two units the target may have been pushed; only 'done' is evidence."""

    async def main():
        async with bench_of(profiles.manual) as bench:
            await bench.target.move_to(120.5)
            await bench.target.move_to(120.5)
            return len(bench.requests)

    assert run(main()) == 2


def test_a_silent_person_ends_the_wait(profiles, bench_of):
    async def main():
        async with bench_of(profiles.manual) as bench:
            bench.act = lambda _request: None
            started = bench.loop.time()
            with pytest.raises(NoAnswer, match="Bring the target into the beam"):
                await bench.target.move_to(120.5)
            assert bench.loop.time() - started == pytest.approx(PATIENCE_S)
            assert bench.target.position_mm is None

    run(main())


def test_a_slow_slide_is_asked_for_with_direction_end_and_pace(profiles, bench_of):
    async def main():
        async with bench_of(profiles.manual) as bench:
            for inward, stops in ((True, False), (False, True)):
                await bench.target.slide(
                    380.0, towards_face=inward, until_stopped=stops, patience_s=60.0, hint="Too fast. "
                )
                assert bench.target.position_mm is None
            return [(request.kind, request.text, request.position_mm) for request in bench.requests]

    assert run(main()) == [
        (
            RequestKind.SLIDE_IN,
            "Too fast. Slide the target slowly towards the unit, to 380 mm: no faster than 5 mm a second.",
            380.0,
        ),
        (
            RequestKind.SLIDE_OUT,
            "Too fast. Slide the target slowly away from the unit; stop when told, at 380 mm at the latest: "
            "no faster than 5 mm a second.",
            380.0,
        ),
    ]


def test_a_slide_ends_when_the_rig_says_stop_and_only_a_slide_does(profiles, bench_of):
    async def main():
        async with bench_of(profiles.manual) as bench:
            bench.act = lambda _request: None
            bench.loop.call_later(7.0, bench.target.stop_slide)
            started = bench.loop.time()
            await bench.target.slide(380.0, towards_face=True, until_stopped=True, patience_s=60.0)
            assert bench.loop.time() - started == pytest.approx(7.0)
            bench.loop.call_later(7.0, bench.target.stop_slide)
            with pytest.raises(NoAnswer):
                await bench.target.move_to(380.0)

    run(main())


def test_a_slide_has_an_end_and_its_own_patience(profiles, bench_of):
    async def main():
        async with bench_of(profiles.manual) as bench:
            bench.act = lambda _request: None
            with pytest.raises(OutOfReach):
                await bench.target.slide(5.0, towards_face=True, until_stopped=True, patience_s=60.0)
            started = bench.loop.time()
            with pytest.raises(NoAnswer):
                await bench.target.slide(380.0, towards_face=True, until_stopped=True, patience_s=60.0)
            assert bench.loop.time() - started == pytest.approx(60.0)

    run(main())


def test_the_scale_is_read_by_whoever_stands_before_it(profiles, bench_of):
    async def main():
        async with bench_of(profiles.manual) as bench:
            bench.act = lambda _request: bench.operator.number(398.5)
            assert await bench.target.read_scale(NumberRange(380.0, 420.0)) == 398.5
            assert bench.target.position_mm == 398.5
            return bench.requests

    (asked,) = run(main())
    assert asked.kind is RequestKind.READ_SCALE
    assert asked.text == "Stop. Leave the target where it stands, read the scale and type the number in mm."
