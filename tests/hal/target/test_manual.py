"""A person with a scale is told exactly what to do, and silence is an error."""

from __future__ import annotations

import pytest

from hal.errors import NoAnswer
from hal.operator import RequestKind
from hal.simulated.clock import run
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
