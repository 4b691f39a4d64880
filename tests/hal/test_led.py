"""The LED pick-up on the bench: waiting for an answer of the unit, in simulated physics."""

import asyncio
from collections.abc import Callable

import pytest

from hal.errors import Tripped
from hal.led import LedPattern, LedPickup
from tests.hal.rigs import Rig, rig, run
from wiring.terms import LedKind, Rail

LENGTH = "barrel-30-length"
COUNT = "barrel-12-count"


def pickup(opened: Rig) -> LedPickup:
    assert opened.nest.led is not None
    return opened.nest.led


def rate_near(rate_hz: float) -> Callable[[LedPattern], bool]:
    return lambda pattern: pattern.rate_hz is not None and abs(pattern.rate_hz - rate_hz) < 0.1 * rate_hz


async def powered(opened: Rig) -> None:
    await opened.bench.target.move_to(500.0)
    await opened.nest.power_on()
    await asyncio.sleep(0.5)


def test_spans_of_a_long_contact_are_seen_as_they_begin() -> None:
    async def main() -> None:
        async with rig(kind=LENGTH) as opened:
            await powered(opened)
            closed_s = await opened.nest.hold_teach(Rail.MINUS, longest_s=9.0)
            for rate_hz, begins_s, within_s in ((2.0, 2.0, 1.2), (5.0, 5.0, 0.6)):
                pattern = await pickup(opened).wait_for(rate_near(rate_hz), 4.0)
                assert pattern is not None
                assert pattern.rate_hz == pytest.approx(rate_hz, rel=0.03)
                assert begins_s < opened.loop.time() - closed_s < begins_s + within_s
            opened.nest.release_teach()
            await opened.nest.teach_released()

    run(main())


@pytest.mark.parametrize(
    "light", [{}, {"ambient": "mains-50", "leaks": True}, {"ambient": "mains-60", "leaks": True}]
)
@pytest.mark.parametrize("contacts", [1, 2, 4, 6])
def test_blinks_of_the_unit_are_counted(contacts: int, light: dict[str, object]) -> None:
    async def main() -> None:
        async with rig(kind=COUNT, light=light) as opened:
            await opened.bench.target.move_to(150.0)
            await opened.nest.power_on()
            await asyncio.sleep(0.5)
            for _ in range(contacts):
                await opened.nest.hold_teach(Rail.MINUS, longest_s=0.6, release_after_s=0.3)
                await opened.nest.teach_released()
                await asyncio.sleep(0.3)
            pattern = await pickup(opened).wait_for(lambda seen: seen.kind is LedKind.BLINKS, 6.0)
            assert pattern is not None
            assert pattern.count == contacts
            assert pattern.noisy is bool(light)

    run(main())


def test_refusal_is_seen_within_half_a_second() -> None:
    async def main() -> None:
        async with rig() as opened:
            await powered(opened)
            for rate_hz in (2.0, 8.0):  # a step on L+, and then another where L- would be next
                closed_s = await opened.nest.hold_teach(Rail.PLUS, longest_s=9.0)
                pattern = await pickup(opened).wait_for(lambda seen: seen.kind is LedKind.FLASHING, 4.0)
                assert pattern is not None
                assert pattern.rate_hz == pytest.approx(rate_hz, rel=0.05)
                seen_s = opened.loop.time() - closed_s
                opened.nest.release_teach()
                await opened.nest.teach_released()
                await asyncio.sleep(2.0)
            assert 1.0 < seen_s < 1.5

    run(main())


def test_an_earlier_answer_is_none_to_a_later_question() -> None:
    async def main() -> None:
        async with rig() as opened:
            await powered(opened)
            await opened.nest.hold_teach(Rail.MINUS, longest_s=9.0)
            assert await pickup(opened).wait_for(rate_near(2.0), 4.0) is not None
            assert pickup(opened).pattern.kind is LedKind.FLASHING
            asked_s = opened.loop.time()
            assert await pickup(opened).wait_for(rate_near(2.0), 4.0) is not None
            assert opened.loop.time() - asked_s > 0.7  # seen anew, not remembered
            opened.nest.release_teach()
            await opened.nest.teach_released()

    run(main())


def test_no_answer_in_time_is_none() -> None:
    async def main() -> None:
        async with rig() as opened:
            await powered(opened)
            asked_s = opened.loop.time()
            looks: list[LedPattern] = []
            assert await pickup(opened).wait_for(lambda seen: bool(looks.append(seen)), 3.0) is None
            assert opened.loop.time() - asked_s == pytest.approx(3.0)
            looked = len(looks)
            await opened.bench.target.clear()  # the unit sees nothing, its LED goes dark
            await asyncio.sleep(3.0)
            assert pickup(opened).pattern.kind is LedKind.DARK
            assert len(looks) == looked > 0  # nobody asks any more
            assert pickup(opened)._looks == []

    run(main())


def test_a_trip_ends_the_waiting() -> None:
    async def main() -> None:
        async with rig() as opened:
            opened.loop.call_later(1.0, opened.press_stop)
            with pytest.raises(Tripped):
                await pickup(opened).wait_for(rate_near(2.0), 60.0)

    run(main())


def test_an_error_in_the_question_is_told_to_who_asked() -> None:
    def stumble(_: LedPattern) -> bool:
        raise ZeroDivisionError

    async def main() -> None:
        async with rig() as opened:
            with pytest.raises(ZeroDivisionError):
                await pickup(opened).wait_for(stumble, 60.0)

    run(main())


def test_pickup_that_fell_off_under_lamps_sees_noise() -> None:
    async def main() -> None:
        async with rig(light={"ambient": "mains-50"}) as opened:
            opened.simulated.world.nests["A"].pick_up.attach(False)
            await powered(opened)
            assert await pickup(opened).wait_for(lambda seen: seen.kind is LedKind.FLASHING, 5.0) is None
            assert pickup(opened).pattern == LedPattern(LedKind.DARK, noisy=True)

    run(main())


def test_a_lost_edge_does_not_mislead_for_ever() -> None:
    async def main() -> None:
        async with rig(arm=False) as opened:
            led = pickup(opened)
            line = opened.bench.profile.nest[0].led
            assert line is not None
            await asyncio.sleep(2.0)
            assert led.pattern.kind is LedKind.DARK
            led._source._pin.when_changed = None  # the edge is lost
            opened.drive(line.line, 1)
            seen = await led.wait_for(lambda pattern: pattern.kind is LedKind.STEADY, 5.0)
            assert seen == LedPattern(LedKind.STEADY)

    run(main())


def test_an_edge_under_way_is_not_taken_for_lost() -> None:
    async def main() -> None:
        async with rig(arm=False) as opened:
            led = pickup(opened)
            line = opened.bench.profile.nest[0].led
            assert line is not None
            for level in (1, 0, 1, 0, 1):
                await asyncio.sleep(0.25)
                opened.drive(line.line, level)
                assert led.pattern.rate_hz is None or level == 1
            await asyncio.sleep(0.1)
            assert led.pattern == LedPattern(LedKind.FLASHING, rate_hz=pytest.approx(2.0, rel=1e-3))

    run(main())
