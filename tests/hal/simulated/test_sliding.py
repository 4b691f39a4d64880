"""The simulated person slides the target by hand: slowly, unevenly, past the stop; scale and gauge show it."""

from __future__ import annotations

import asyncio
from itertools import pairwise
from typing import Any

import pytest

from hal.errors import NoAnswer
from hal.operator import NumberRange, Operator, Request, RequestKind
from hal.simulated.benchfile import UnitRow
from hal.simulated.clock import NS, run
from hal.simulated.gauge import Gauge
from hal.simulated.truths import GaugeTruth, PersonTruth, TargetTruth
from tests.hal.simulated.hands import SIMULATED, BenchFault, Hands, bench_file
from wiring.problems import DataFileError
from wiring.profile import find_profile, load_profile

HAND = load_profile(find_profile("hand-gauge"))
SCALE = load_profile(find_profile("single-nest"))
READ = Request(RequestKind.READ_SCALE, "read", number=NumberRange(-1e4, 1e4))


class Desk:
    """A hand bench and its screen, without a program."""

    def __init__(self, **more: Any) -> None:
        profile = more.pop("profile", HAND).model_copy(update={"foot_switch": None})
        rows = (UnitRow(kind="barrel-18-rail"),)
        self.hands = Hands(bench_file(unit=rows, **more), profile)
        self.target = self.hands.world.target
        self.operator = Operator()
        self.hands.bench.person.attach(self.operator)

    async def place(self, at_mm: float) -> None:
        await self.operator.ask(Request(RequestKind.PLACE_TARGET, "place", at_mm), timeout_s=60.0)

    async def slide(self, to_mm: float, timeout_s: float = 100.0) -> None:
        kind = RequestKind.SLIDE_IN if to_mm < self.target.true_mm else RequestKind.SLIDE_OUT
        await self.operator.ask(Request(kind, "slide", to_mm), timeout_s=timeout_s)

    async def stopped_after(self, seconds: float, to_mm: float) -> float:
        """Slide until told to stop; how far the hand went on."""
        self.hands.loop.call_later(seconds, self.operator.done)
        await self.slide(to_mm)
        told_mm = self.target.true_mm
        await asyncio.sleep(2.0)
        return abs(self.target.true_mm - told_mm)


def speeds_mm_s(places: list[tuple[float, float]]) -> list[float]:
    return [(b_mm - a_mm) / (b_s - a_s) for (a_s, a_mm), (b_s, b_mm) in pairwise(places)]


async def watched(desk: Desk, to_mm: float) -> list[tuple[float, float]]:
    places: list[tuple[float, float]] = []

    async def watch() -> None:
        while True:
            places.append((desk.hands.loop.time(), desk.target.true_mm))
            await asyncio.sleep(0.1)

    watching = asyncio.ensure_future(watch())
    await desk.slide(to_mm)
    watching.cancel()
    return places


@pytest.mark.parametrize("to_mm", [380.0, 440.0])
def test_a_slide_goes_one_way_at_uneven_speed_with_halts_and_ends_where_it_shall(to_mm: float) -> None:
    async def main() -> tuple[list[tuple[float, float]], float]:
        truth = PersonTruth(slide_mm_s=4.0, unevenness=0.4, hesitation=0.2, placement_mm=0.5)
        desk = Desk(person=truth)
        await desk.place(410.0)
        return await watched(desk, to_mm), desk.target.true_mm

    places, end_mm = run(main())
    moving = [abs(speed) for speed in speeds_mm_s(places) if abs(speed) > 1e-6]
    assert abs(end_mm - to_mm) <= 0.5 + 0.1
    assert all((speed > -1e-6) is (to_mm > 410) or abs(speed) < 1e-6 for speed in speeds_mm_s(places))
    assert max(moving) <= 4.0 * 1.4 + 1e-6
    assert max(moving) > 1.3 * sorted(moving)[len(moving) // 2] or min(moving) < 3.0
    assert len(moving) < len(places) - 10  # halts
    assert places[-1][0] - places[0][0] > 30.0 / 5.6


def test_told_to_stop_the_hand_goes_on_for_a_moment() -> None:
    async def main() -> list[float]:
        truth = PersonTruth(slide_mm_s=4.0, unevenness=0.0, hesitation=0.0, stop_s=0.5)
        desk, way = Desk(person=truth), []
        for _ in range(8):
            await desk.place(410.0)
            way.append(await desk.stopped_after(4.0, 300.0))
        return way

    ways_mm = run(main())
    assert all(0.8 * 0.5 * 4.0 <= way_mm <= 0.8 * 4.0 + 1.2 * 0.5 * 4.0 for way_mm in ways_mm)
    assert max(ways_mm) > min(ways_mm)


def test_a_quick_hand_told_to_stop_begins_the_next_slide_and_ends_it() -> None:
    async def main() -> float:
        truth = PersonTruth(reaction_s=0.2, stop_s=2.0, placement_mm=0.0, hesitation=0.0)
        desk = Desk(person=truth)
        await desk.place(410.0)
        desk.hands.loop.call_later(4.0, desk.operator.done)
        await desk.slide(380.0)
        await desk.slide(430.0)
        return desk.target.true_mm

    assert run(main()) == pytest.approx(430.0, abs=0.2)


def test_the_scale_is_read_with_an_error_of_its_own_and_one_of_the_eye() -> None:
    async def main() -> list[float]:
        truth = PersonTruth(reading_mm=0.4, placement_mm=3.0)
        desk = Desk(person=truth, target=TargetTruth(zero_mm=1.0, scale_percent=0.5))
        errors = []
        for _ in range(40):
            await desk.place(400.0)
            shown_mm = (desk.target.true_mm - 1.0) / 1.005
            errors.append(await desk.operator.ask_number(READ, timeout_s=60.0) - shown_mm)
        return errors

    errors = run(main())
    assert max(map(abs, errors)) <= 0.45
    assert max(errors) > 0.2
    assert min(errors) < -0.2


def test_the_target_is_placed_by_the_scale_wrong_as_that_may_be() -> None:
    async def main() -> float:
        desk = Desk(person=PersonTruth(placement_mm=0.0), target=TargetTruth(zero_mm=-2.0, scale_percent=1.0))
        await desk.place(400.0)
        return desk.target.true_mm

    assert run(main()) == pytest.approx(402.0)


def test_the_gauge_shows_where_the_plate_was_a_moment_ago() -> None:
    async def main() -> list[float]:
        truth = GaugeTruth(lag_s=0.2, interval_s=0.001, noise_mm=0.0, error_mm=0.3)
        desk = Desk(person=PersonTruth(slide_mm_s=4.0, unevenness=0.3, hesitation=0.0), gauge=truth)
        gauge = desk.hands.world.gauge
        assert isinstance(gauge, Gauge)
        await desk.place(410.0)
        places: dict[float, float] = {}
        seen: dict[float, float] = {}

        async def watch() -> None:
            while True:
                at_s = round(desk.hands.world.now_ns / NS, 3)
                places[at_s], seen[at_s] = desk.target.true_mm, gauge.seen_mm()
                await asyncio.sleep(0.05)

        watching = asyncio.ensure_future(watch())
        await desk.slide(380.0)
        watching.cancel()
        return [
            seen_mm - 0.3 - places[before_s]
            for at_s, seen_mm in seen.items()
            if (before_s := round(at_s - 0.2, 3)) in places
        ]

    errors = run(main())
    assert len(errors) > 50
    assert max(map(abs, errors)) < 0.01


def test_a_stuck_gauge_shows_what_it_showed_and_a_silent_one_nothing() -> None:
    async def main() -> tuple[float, float, bool]:
        faults = (
            BenchFault(kind="gauge-stuck", after_s=10.0, for_s=20.0),
            BenchFault(kind="gauge-silent", after_s=40.0),
        )
        desk = Desk(fault=faults, gauge=GaugeTruth(noise_mm=0.0))
        gauge = desk.hands.world.gauge
        assert isinstance(gauge, Gauge)
        await desk.place(400.0)
        await asyncio.sleep(12.0 - desk.hands.loop.time())
        await desk.place(300.0)
        stuck_mm = gauge.seen_mm()
        await asyncio.sleep(31.0 - desk.hands.loop.time())
        freed_mm = gauge.seen_mm()
        await asyncio.sleep(41.0 - desk.hands.loop.time())
        return stuck_mm, freed_mm, gauge.silent

    stuck_mm, freed_mm, silent = run(main())
    assert stuck_mm == pytest.approx(400.0, abs=1.0)
    assert freed_mm == pytest.approx(300.0, abs=1.0)
    assert silent


def test_a_person_may_misread_or_leave_the_target_in() -> None:
    async def main() -> tuple[float, bool]:
        faults = (BenchFault(kind="scale-misread", offset_mm=-10.0), BenchFault(kind="target-left-in"))
        desk = Desk(fault=faults, person=PersonTruth(reading_mm=0.0, placement_mm=0.0))
        await desk.place(400.0)
        number = await desk.operator.ask_number(READ, timeout_s=60.0)
        await desk.operator.ask(Request(RequestKind.CLEAR_BEAM, "clear"), timeout_s=60.0)
        return number, desk.target.in_beam

    assert run(main()) == (pytest.approx(390.0), True)


def test_a_silent_person_stops_sliding_and_types_nothing() -> None:
    async def main() -> float:
        desk = Desk(fault=(BenchFault(kind="person-silent", after_s=10.0),))
        await desk.place(400.0)
        with pytest.raises(NoAnswer):
            await desk.slide(300.0, timeout_s=60.0)
        with pytest.raises(NoAnswer):
            await desk.operator.ask_number(READ, timeout_s=60.0)
        return desk.target.true_mm

    assert 350.0 < run(main()) < 400.0


@pytest.mark.parametrize("kind", ["gauge-silent", "gauge-stuck"])
@pytest.mark.parametrize("profile", [SIMULATED, SCALE])
def test_a_rig_without_a_gauge_has_none_of_its_faults(kind: str, profile: Any) -> None:
    async def main() -> None:
        Hands(bench_file(fault=(BenchFault(kind=kind),)), profile)

    with pytest.raises(DataFileError, match="the rig has no gauge"):
        run(main())
