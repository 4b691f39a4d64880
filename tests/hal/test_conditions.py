"""Resting, armed, tripped, and back: what the interlock lets through in each, and what it refuses."""

from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from hal.errors import Refused, TripCause, TripKind, Tripped
from hal.interlock.outputs import OutputId
from hal.interlock.rules import Condition, Job
from hal.simulated.bench import SimulatedBench
from hal.simulated.clock import JumpingLoop
from hal.simulated.record import Place, RailsJoined, SelectorMovedUnderLoad
from tests.hal.rigs import (
    ASKED,
    COIL_SENSE,
    PROFILES,
    RAIL_SELECTOR,
    SELECTOR,
    SUPPLY,
    SUPPLY_SENSE,
    TEACH,
    TWO_RELAY,
    Rig,
    everything_on,
    kinds,
    rig,
    run,
    settle,
    touch,
)
from wiring.profile import RigProfile
from wiring.terms import Rail


@PROFILES
def test_nothing_is_energised_before_arming_and_after_rest(profile: RigProfile) -> None:
    async def main() -> None:
        async with rig(profile, arm=False) as opened:
            assert opened.interlock.condition is Condition.RESTING
            assert opened.outputs_on() == []
            await opened.interlock.arm()
            assert opened.interlock.condition is Condition.ARMED
            await everything_on(opened)
            assert len(opened.outputs_on()) >= 5
            opened.interlock.rest()
            assert opened.interlock.condition is Condition.RESTING
            assert opened.outputs_on() == []
            await settle()
            assert opened.interlock.causes == ()
            assert opened.incidents == []

    run(main())


def test_arming_twice_is_arming_once() -> None:
    async def main() -> None:
        async with rig() as opened:
            before_s = opened.loop.time()
            await opened.interlock.arm()
            assert opened.loop.time() == before_s

    run(main())


def test_arming_right_after_rest_waits_for_what_is_still_falling() -> None:
    async def main() -> None:
        async with rig() as opened:
            await everything_on(opened)
            opened.interlock.rest()
            await opened.interlock.arm()
            await everything_on(opened)
            assert opened.incidents == []

    run(main())


def test_heartbeat_beats_while_armed_and_ends_with_rest() -> None:
    async def main() -> None:
        async with rig() as opened:
            beats = count_edges(opened, SELECTOR.coil_supply.heartbeat.line)
            await settle(6.0)
            assert beats() == pytest.approx(6.0 / SELECTOR.coil_supply.beat_s, abs=2)
            opened.interlock.rest()
            rested = beats()
            await settle(2.0)
            assert beats() == rested
            assert not opened.simulated.world.coils.live

    run(main())


def test_arming_again_within_a_beat_does_not_beat_twice_as_fast() -> None:
    async def main() -> None:
        async with rig(TWO_RELAY) as opened:
            opened.interlock.rest()
            await opened.interlock.arm()
            beats = count_edges(opened, TWO_RELAY.coil_supply.heartbeat.line)
            await settle(6.0)
            assert beats() == pytest.approx(6.0 / TWO_RELAY.coil_supply.beat_s, abs=2)

    run(main())


def count_edges(opened: Rig, line: str) -> Callable[[], int]:
    seen: list[int] = []
    pin = opened.pin(line)
    sink, drives = pin._sink, pin._drives
    assert sink is not None

    def count(level: int) -> None:
        seen.append(level)
        if drives[level]:
            sink(level)

    pin._sink, pin._drives = count, (True, True)
    return lambda: len(seen)


async def press_stop_first(opened: Rig) -> None:
    opened.press_stop()


async def weld_first(opened: Rig) -> None:
    with opened.simulated.world.timeline:
        opened.relay("teach_contact").place = Place.WORK
        opened.simulated.world.nests["A"]._teach_moved()


async def foreign_supply(opened: Rig) -> None:
    opened.drive(SUPPLY_SENSE, 1)


async def bridged_heartbeat(opened: Rig) -> None:
    opened.drive(COIL_SENSE, 1)
    await settle()


async def supply_off(opened: Rig) -> None:
    await opened.bench.supply.off()


@pytest.mark.parametrize(
    ("spoil", "kind"),
    [
        (press_stop_first, TripKind.STOP_PRESSED),
        (weld_first, TripKind.READBACK_UNEXPECTED),
        (foreign_supply, TripKind.SUPPLY_WELDED),
        (bridged_heartbeat, TripKind.COIL_SUPPLY_STUCK),
        (supply_off, TripKind.COIL_SUPPLY_LOST),
    ],
)
def test_a_bench_that_is_not_at_rest_does_not_arm(
    spoil: Callable[[Rig], Coroutine[Any, Any, None]], kind: TripKind
) -> None:
    async def main() -> None:
        async with rig(arm=False) as opened:
            await spoil(opened)
            with pytest.raises(Tripped) as tripped:
                await opened.interlock.arm()
            assert tripped.value.cause.kind is kind
            assert tripped.value.check
            assert opened.outputs_on() == []

    run(main())


def test_a_broken_wire_to_the_stop_button_reads_as_pressed() -> None:
    async def main() -> None:
        async with rig() as opened:
            pin = opened.pin(SELECTOR.coil_supply.stop_button.line)
            with opened.simulated.world.timeline:
                pin._driven = None
                pin._settle(pin._resting_level())
            await settle()
            assert kinds(opened) == [TripKind.STOP_PRESSED]

    run(main())


def test_a_stop_pressed_all_along_does_not_arm_even_without_an_edge() -> None:
    async def main() -> None:
        async with rig(arm=False, fault=[{"kind": "stop-pressed"}]) as opened:
            assert opened.interlock.causes == ()
            with pytest.raises(Tripped, match="stop button is pressed"):
                await opened.interlock.arm()

    run(main())


def test_a_supply_that_was_there_before_the_program_does_not_arm() -> None:
    def feed(simulated: SimulatedBench) -> None:
        simulated.pin_factory.pin(SUPPLY_SENSE).drive(1)

    async def main() -> None:
        async with rig(arm=False, before=feed) as opened:
            with pytest.raises(Tripped, match="still has voltage"):
                await opened.interlock.arm()

    run(main())


@pytest.mark.parametrize(
    ("output", "longest_s"),
    [(SUPPLY, None), (OutputId(Job.LOAD, "A"), None), (OutputId(Job.SWING), None), (TEACH, 1.0)],
)
def test_on_while_resting_is_refused_and_trips(output: OutputId, longest_s: float | None) -> None:
    async def main() -> None:
        async with rig(arm=False) as opened:
            with pytest.raises(Refused, match="while resting"):
                opened.interlock.command(output, True, longest_s=longest_s)
            assert kinds(opened) == [TripKind.PROGRAM]
            assert opened.outputs_on() == []

    run(main())


def test_selector_under_a_closed_contact_is_refused_and_opens_the_contact() -> None:
    async def main() -> None:
        async with rig() as opened:
            await opened.nest.hold_teach(Rail.MINUS, longest_s=5.0)
            with pytest.raises(Refused, match="teach_contact is closed"):
                opened.interlock.command(RAIL_SELECTOR, True)
            assert opened.outputs_on() == []
            await settle()
            assert opened.incidents == []
            assert kinds(opened) == [TripKind.PROGRAM]

    run(main())


def test_contact_without_a_longest_time_is_refused() -> None:
    async def main() -> None:
        async with rig() as opened:
            with pytest.raises(Refused, match="longest time"):
                opened.interlock.command(TEACH, True)

    run(main())


def test_second_contact_over_the_first_is_refused() -> None:
    async def main() -> None:
        async with rig() as opened:
            await opened.nest.hold_teach(Rail.MINUS, longest_s=5.0)
            with pytest.raises(Refused, match="still closed"):
                await opened.nest.hold_teach(Rail.MINUS, longest_s=5.0)
            assert opened.outputs_on() == []

    run(main())


def test_other_contact_right_after_the_first_is_refused_with_two_relays() -> None:
    async def main() -> None:
        async with rig(TWO_RELAY) as opened:
            await opened.nest.hold_teach(Rail.PLUS, longest_s=5.0)
            opened.nest.release_teach()
            with pytest.raises(Refused, match="plus_contact was switched"):
                opened.interlock.command(OutputId(Job.MINUS_CONTACT, "A"), True, longest_s=1.0)
            await settle()
            assert opened.incidents == []

    run(main())


def test_command_to_an_output_that_is_not_there_trips() -> None:
    async def main() -> None:
        async with rig() as opened:
            with pytest.raises(KeyError):
                opened.interlock.command(OutputId(Job.SUPPLY, "B"), True)
            with pytest.raises(Tripped):
                opened.interlock.command(SUPPLY, True)
            assert kinds(opened) == [TripKind.PROGRAM]

    run(main())


@PROFILES
def test_nothing_comes_on_before_a_reset_and_all_works_after_it(profile: RigProfile) -> None:
    async def main() -> None:
        async with rig(profile) as opened:
            await everything_on(opened)
            opened.press_stop()
            await settle()
            for wish in (opened.interlock.arm(), opened.nest.power_on(), opened.nest.pull_output(Rail.PLUS)):
                with pytest.raises(Tripped):
                    await wish
            opened.interlock.command(SUPPLY, False)  # off may always be asked for
            opened.interlock.rest()
            with pytest.raises(Tripped, match="stop button"):
                opened.interlock.reset()
            opened.press_stop(False)
            await settle()
            assert opened.interlock.condition is Condition.TRIPPED
            opened.interlock.reset()
            opened.interlock.reset()
            assert opened.interlock.condition is Condition.RESTING
            assert opened.interlock.causes == ()
            assert opened.outputs_on() == []
            await opened.interlock.arm()
            await everything_on(opened)
            assert opened.incidents == []

    run(main())


def test_a_welded_contact_is_not_reset_away() -> None:
    async def main() -> None:
        async with rig() as opened:
            opened.break_relay("teach_contact", welded=True)
            with pytest.raises(Tripped):
                await touch(opened)
            with pytest.raises(Tripped, match="still at L-"):
                opened.interlock.reset()
            opened.break_relay("teach_contact", welded=False)
            await settle()
            opened.interlock.reset()
            await opened.interlock.arm()

    run(main())


def test_reset_before_the_trip_was_told_tells_nobody() -> None:
    async def main() -> None:
        async with rig() as opened:
            heard: list[TripCause] = []
            opened.interlock.on_trip.append(heard.append)
            opened.interlock.trip(ASKED)
            opened.interlock.reset()
            await settle()
            assert heard == []
            await opened.interlock.arm()

    run(main())


def test_nothing_is_checked_any_more_after_release() -> None:
    async def main() -> None:
        async with rig() as opened:
            await opened.nest.hold_teach(Rail.MINUS, longest_s=5.0)
            opened.break_relay("teach_contact", welded=True)
            opened.interlock.release()
            assert opened.outputs_on() == []
            await settle()
            assert opened.interlock.causes == ()

    run(main())


def test_trip_after_the_loop_has_gone_still_switches_off() -> None:
    async def main() -> Rig:
        async with rig() as opened:
            kept.append(opened)
            await opened.nest.power_on()
            opened.interlock._loop.close = lambda: None  # type: ignore[method-assign]
            closed_loop = JumpingLoop()
            closed_loop.close()
            opened.interlock._loop.call_soon_threadsafe = closed_loop.call_soon_threadsafe  # type: ignore
            opened.interlock.trip(ASKED)
            assert opened.outputs_on() == []
            del opened.interlock._loop.call_soon_threadsafe
            del opened.interlock._loop.close
        return opened

    kept: list[Rig] = []
    run(main())


def test_no_danger_was_recorded_by_the_physics_in_a_full_turn() -> None:
    async def main() -> None:
        for profile in (SELECTOR, TWO_RELAY):
            async with rig(profile) as opened:
                for rail in (Rail.PLUS, Rail.MINUS, Rail.MINUS, Rail.PLUS):
                    await opened.nest.hold_teach(rail, longest_s=2.0, release_after_s=0.2)
                    await opened.nest.teach_released()
                dangers = [e for e in opened.incidents if isinstance(e, RailsJoined | SelectorMovedUnderLoad)]
                assert dangers == []

    run(main())
