"""The nest in the bench's words, on simulated physics."""

import asyncio

import pytest

from hal.errors import TripKind, Tripped
from hal.interlock.rules import WireState
from hal.nest import OutputLevel
from hal.simulated.clock import JumpingLoop
from hal.simulated.record import Place
from tests.hal.rigs import SELECTOR, TWO_RELAY, Rig, rig, run
from wiring.profile import RigProfile
from wiring.terms import Rail

PROFILES = pytest.mark.parametrize("profile", [SELECTOR, TWO_RELAY], ids=["selector", "two-relay"])


@PROFILES
def test_supply_reaches_the_unit_before_power_on_returns(profile: RigProfile) -> None:
    async def main() -> None:
        async with rig(profile) as opened:
            for _ in range(2):
                await opened.nest.power_on()
                assert opened.relay("supply").closed
                assert await opened.bench.supply.current_a() > 0.02  # type: ignore[operator]
                await opened.nest.power_off()
                assert not opened.relay("supply").closed

    run(main())


@PROFILES
@pytest.mark.parametrize("rail", list(Rail))
@pytest.mark.parametrize("length_s", [0.1, 0.3, 1.5])
def test_contact_is_as_long_as_it_was_to_be_and_as_recorded(
    profile: RigProfile, rail: Rail, length_s: float
) -> None:
    async def main() -> None:
        async with rig(profile) as opened:
            await opened.nest.power_on()
            await asyncio.sleep(0.5)
            closed_s = await opened.nest.hold_teach(rail, longest_s=3.0, release_after_s=length_s)
            assert opened.nest.teach_wire() is WireState.at(rail)
            record = await opened.nest.teach_released()
            assert opened.nest.teach_wire() is WireState.FLOATING
            released_s = profile.nest[0].teach_relays[1].release_s
            assert length_s <= record.length_s <= length_s + released_s
            assert (record.rail, record.closed_at_s) == (rail, closed_s)
            await asyncio.sleep(0.1)
            (contact,) = opened.simulated.world.record.contacts
            assert contact.rail is rail
            assert contact.length_s == pytest.approx(record.length_s, abs=0.004)

    run(main())


def test_two_contacts_the_second_after_the_dead_time() -> None:
    async def main() -> None:
        async with rig() as opened:
            await opened.nest.hold_teach(Rail.MINUS, longest_s=3.0, release_after_s=0.2)
            first = await opened.nest.teach_released()
            second_s = await opened.nest.hold_teach(Rail.PLUS, longest_s=3.0, release_after_s=0.2)
            # Contact open, dead time, selector moves, dead time, contact closes.
            assert 2 * SELECTOR.dead_time_s < second_s - first.opened_at_s < 2 * SELECTOR.dead_time_s + 0.03
            second = await opened.nest.teach_released()
            third_s = await opened.nest.hold_teach(Rail.PLUS, longest_s=3.0)
            assert third_s - second.opened_at_s < SELECTOR.dead_time_s
            assert opened.incidents == []

    run(main())


def test_releasing_what_is_not_held_is_harmless() -> None:
    async def main() -> None:
        async with rig() as opened:
            opened.nest.release_teach()
            await opened.nest.hold_teach(Rail.MINUS, longest_s=3.0, release_after_s=1.0)
            opened.nest.release_teach()
            opened.nest.release_teach()
            record = await opened.nest.teach_released()
            assert record.length_s < 0.01
            await asyncio.sleep(2.0)
            assert opened.interlock.causes == ()
            with pytest.raises(ValueError, match="no contact"):
                await opened.nest.teach_released()

    run(main())


def test_a_time_set_for_one_contact_does_not_end_the_next() -> None:
    async def main() -> None:
        async with rig() as opened:
            await opened.nest.hold_teach(Rail.MINUS, longest_s=3.0, release_after_s=1.0)
            opened.nest.release_teach()
            await opened.nest.teach_released()
            await opened.nest.hold_teach(Rail.MINUS, longest_s=3.0, release_after_s=2.0)
            assert (await opened.nest.teach_released()).length_s > 2.0

    run(main())


def test_release_in_time_before_the_interlock_does_it() -> None:
    async def main() -> None:
        async with rig() as opened:
            closed_s = await opened.nest.hold_teach(Rail.MINUS, longest_s=1.0)
            await opened.bench.waits.sleep_until(closed_s + 1.0 - opened.nest.release_margin_s)
            opened.nest.release_teach()
            record = await opened.nest.teach_released()
            assert record.length_s <= 1.0
            assert opened.interlock.causes == ()

    run(main())


def test_cancelling_a_contact_opens_it() -> None:
    async def main() -> None:
        async with rig() as opened:
            holding = asyncio.ensure_future(opened.nest.hold_teach(Rail.MINUS, longest_s=9.0))
            await asyncio.sleep(0.005)  # commanded, not yet closed
            holding.cancel()
            await asyncio.wait({holding})
            await asyncio.sleep(0.1)
            assert not opened.relay("teach_contact").closed
            await opened.nest.hold_teach(Rail.MINUS, longest_s=9.0)

    run(main())


def test_edges_that_were_never_told_do_not_lose_the_contact() -> None:
    async def main() -> None:
        async with rig() as opened:
            for line in (opened.nest._guard.teach_wire._plus, opened.nest._guard.teach_wire._minus):
                line._pin.when_changed = None
            closed_s = await opened.nest.hold_teach(Rail.MINUS, longest_s=3.0)
            await asyncio.sleep(0.5)
            opened.nest.release_teach()
            record = await opened.nest.teach_released()
            assert record.closed_at_s == closed_s
            assert record.length_s == pytest.approx(0.5, abs=0.02)

    run(main())


def test_a_released_contact_that_never_closed_has_no_length() -> None:
    async def main() -> None:
        async with rig() as opened:
            holding = asyncio.ensure_future(opened.nest.hold_teach(Rail.MINUS, longest_s=9.0))
            await asyncio.sleep(0.002)
            opened.nest.release_teach()
            await holding
            assert (await opened.nest.teach_released()).length_s == 0.0
            assert opened.relay("teach_contact").place is Place.REST

    run(main())


@pytest.mark.parametrize(
    ("kind", "at_mm", "levels"),
    [
        ("barrel-18-rail", 400.0, {Rail.PLUS: OutputLevel.AT_PLUS, Rail.MINUS: OutputLevel.AT_PLUS}),
        ("barrel-18-rail", None, {Rail.PLUS: OutputLevel.AT_PLUS, Rail.MINUS: OutputLevel.AT_MINUS}),
        ("barrel-12-count", 150.0, {Rail.PLUS: OutputLevel.AT_MINUS, Rail.MINUS: OutputLevel.AT_MINUS}),
    ],
)
def test_output_is_told_apart_by_pulling_it_both_ways(
    kind: str, at_mm: float | None, levels: dict[Rail, OutputLevel]
) -> None:
    async def main() -> None:
        async with rig(kind=kind) as opened:
            await (opened.bench.target.clear() if at_mm is None else opened.bench.target.move_to(at_mm))
            await opened.nest.power_on()
            await asyncio.sleep(1.0)
            for rail, level in levels.items():
                await opened.nest.pull_output(rail)
                assert opened.nest.output() is level
                assert await opened.nest.settled_output(0.1) is level

    run(main())


def test_a_load_that_is_there_already_is_not_waited_for() -> None:
    async def main() -> None:
        async with rig() as opened:
            took_s = []
            for pulled in (Rail.MINUS, Rail.PLUS, Rail.PLUS, Rail.MINUS, Rail.MINUS):
                start_s = opened.loop.time()
                await opened.nest.pull_output(pulled)
                took_s.append(opened.loop.time() - start_s)
                assert opened.relay("load").closed is (pulled is Rail.PLUS)
            settle_s = SELECTOR.nest[0].load.settle_s
            assert took_s == pytest.approx([0.0, settle_s, 0.0, settle_s, 0.0])

    run(main())


def test_a_load_that_dropped_with_everything_else_is_pulled_anew() -> None:
    async def main() -> None:
        async with rig() as opened:
            for pulled in (Rail.PLUS, Rail.MINUS):
                await opened.nest.pull_output(Rail.PLUS)
                opened.interlock.rest()
                if pulled is Rail.PLUS:
                    await opened.interlock.arm()
                # Where it is on its way to it is no more than after a command of its own.
                await opened.nest.pull_output(pulled)
                assert opened.relay("load").place is (Place.WORK if pulled is Rail.PLUS else Place.REST)

    run(main())


def test_output_that_does_not_stand_still_is_unsteady() -> None:
    line = SELECTOR.nest[0].output_at_plus.line

    async def main() -> None:
        async with rig() as opened:

            async def chatter() -> None:
                for level in range(400):
                    opened.drive(line, level % 2)
                    await asyncio.sleep(0.003)

            changes = opened.nest.output_changes
            noise = asyncio.ensure_future(chatter())
            await asyncio.sleep(0.1)
            start_s = opened.loop.time()
            assert await opened.nest.settled_output(0.2) is OutputLevel.UNSTEADY
            assert opened.loop.time() - start_s == pytest.approx(0.2)
            await noise
            assert await opened.nest.settled_output(0.2) is not OutputLevel.UNSTEADY
            assert opened.nest.output_changes - changes >= 399

    run(main())


def test_every_output_level_has_its_word() -> None:
    assert [OutputLevel.read(plus, minus) for plus in (False, True) for minus in (False, True)] == [
        OutputLevel.BETWEEN,
        OutputLevel.AT_MINUS,
        OutputLevel.AT_PLUS,
        OutputLevel.BOTH,
    ]


def test_every_wait_of_the_nest_ends_with_a_trip() -> None:
    async def work(opened: Rig, name: str) -> None:
        if name == "hold":
            await opened.nest.hold_teach(Rail.PLUS, longest_s=5.0)
        elif name == "released":
            await opened.nest.hold_teach(Rail.PLUS, longest_s=500.0)
            await opened.nest.teach_released()
        elif name == "power":
            await opened.nest.power_on()
        else:
            await opened.nest.pull_output(Rail.PLUS)

    async def main() -> None:
        for name in ("hold", "released", "power", "pull"):
            async with rig() as opened:
                start_s = opened.loop.time()
                opened.loop.call_later(0.004, opened.press_stop)
                with pytest.raises(Tripped) as tripped:
                    await work(opened, name)
                assert tripped.value.cause.kind is TripKind.STOP_PRESSED
                assert opened.loop.time() - start_s < 0.1

    run(main())


def test_release_comes_on_time_although_tasks_are_late() -> None:
    async def main() -> None:
        async with rig() as opened:
            assert isinstance(opened.loop, JumpingLoop)
            await opened.nest.hold_teach(Rail.MINUS, longest_s=3.0, release_after_s=0.3)
            await asyncio.sleep(0.25)
            opened.loop.block_for(0.03)  # over before the release is due
            record = await opened.nest.teach_released()
            assert 0.3 <= record.length_s <= 0.305

    run(main())
