"""Units that come back to the nest are the same ones, and each time sit where the hands that put them in leave them."""

from __future__ import annotations

import asyncio
from statistics import mean, stdev

import pytest

from hal.simulated.benchfile import Arrival, UnitRow
from hal.simulated.clock import run
from hal.simulated.seating import Seating
from hal.simulated.truths import Hand, SeatingTruth
from tests.hal.simulated.hands import Hands, bench_file
from wiring.profile import find_profile, load_profile
from wiring.terms import DetectionMode

HAND_GAUGE = load_profile(find_profile("hand-gauge"))
SET = UnitRow(kind="barrel-18-rail", arrives=Arrival(mode=DetectionMode.SINGLE_POINT, near_mm=400.0))


def seating(spread_mm: float = 0.0) -> SeatingTruth:
    return SeatingTruth(spread_mm=spread_mm, by=(Hand(name="Tobias", offset_mm=-2.0),))


def test_hands_have_their_own_offset_and_no_two_seatings_are_alike() -> None:
    drawn = Seating(seating(0.1), seed=3)
    by_tobias = [drawn.sits_mm("Tobias") for _ in range(400)]
    by_others = [drawn.sits_mm("") for _ in range(400)]
    assert mean(by_tobias) == pytest.approx(-2.0, abs=0.02)
    assert mean(by_others) == pytest.approx(0.0, abs=0.02)
    assert stdev(by_others) == pytest.approx(0.1, rel=0.15)
    assert Seating(seating(), seed=3).sits_mm("Tobias") == -2.0


def test_a_kept_unit_is_put_in_again_and_works_as_before() -> None:
    async def main() -> None:
        hands = Hands(bench_file(unit=(SET, SET)))
        world = hands.world
        world.keep(("K-1", "K-2"))
        world.target.put_in_beam(True)
        world.target.start_move(300.0, 1e6)
        hands.beat()
        await asyncio.sleep(0.5)
        seen = []
        for serial in ("K-2", "K-1", "K-2"):
            unit = world.fit_next(None, serial)
            assert unit is not None
            hands.relay("supply", True)
            await asyncio.sleep(1.0)
            seen.append((unit, unit.is_on))
            hands.relay("supply", False)
            await asyncio.sleep(0.1)
            world.remove()
        assert [on for _, on in seen] == [True, True, True]
        assert seen[0][0] is seen[2][0]
        assert seen[0][0] is not seen[1][0]
        hands.stop_beating()

    run(main())


def test_a_unit_that_sits_nearer_sees_the_target_nearer_and_the_gauge_beside_it_does_not() -> None:
    async def main() -> tuple[float, float]:
        hands = Hands(bench_file(unit=(SET,), seating=seating()), HAND_GAUGE)
        world = hands.world
        world.target.start_move(300.0, 1e6, placement_mm=0.0)
        await asyncio.sleep(1.0)
        world.puts_in = "Tobias"
        world.fit_next()
        await asyncio.sleep(1.0)
        assert world.gauge is not None
        return world.target.true_mm, world.gauge.seen_mm()

    true_mm, seen_mm = run(main())
    assert true_mm == pytest.approx(298.0)
    assert seen_mm == pytest.approx(300.0, abs=0.1)
