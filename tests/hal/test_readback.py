"""Contacts and relays that do not do what they were told, or not in time; and a program that is late."""

import asyncio

import pytest

from hal.errors import TripKind, Tripped
from hal.interlock.rules import Condition
from hal.simulated.clock import JumpingLoop
from hal.simulated.record import Place
from tests.hal.rigs import (
    PROFILES,
    SELECTOR,
    SUPPLY,
    SUPPLY_SENSE,
    TWO_RELAY,
    Rig,
    everything_on,
    kinds,
    rig,
    run,
    settle,
    touch,
    trip_of,
)
from wiring.profile import RigProfile
from wiring.terms import Rail


@PROFILES
def test_welded_contact_trips(profile: RigProfile) -> None:
    async def work(opened: Rig) -> None:
        contact = "teach_contact" if profile is SELECTOR else "minus_contact"
        opened.break_relay(contact, welded=True)
        await touch(opened)

    assert trip_of(work, profile) == [TripKind.READBACK_WELDED]


@PROFILES
def test_dead_contact_trips(profile: RigProfile) -> None:
    async def work(opened: Rig) -> None:
        opened.break_relay("teach_contact" if profile is SELECTOR else "minus_contact", dead=True)
        await touch(opened)

    assert trip_of(work, profile) == [TripKind.READBACK_DEAD]


def test_stuck_selector_trips_as_wrong_rail() -> None:
    async def work(opened: Rig) -> None:
        opened.break_relay("rail_selector", stuck=True)
        await touch(opened, Rail.PLUS)

    assert trip_of(work) == [TripKind.READBACK_WRONG_RAIL]


@pytest.mark.parametrize("relay", ["teach_contact", "supply"])
def test_relay_slower_than_its_profile_says_trips(relay: str) -> None:
    async def work(opened: Rig) -> None:
        opened.break_relay(relay, slowness=4.0)
        await touch(opened)

    expected = TripKind.READBACK_DEAD if relay == "teach_contact" else TripKind.SUPPLY_DEAD
    assert trip_of(work)[0] is expected


def test_contact_that_falls_off_by_itself_trips_at_once() -> None:
    async def work(opened: Rig) -> None:
        await opened.nest.hold_teach(Rail.MINUS, longest_s=2.0)
        await settle(0.1)
        opened.break_relay("teach_contact", dead=True)
        await settle(0.1)
        assert opened.interlock.condition is Condition.TRIPPED
        await opened.nest.teach_released()

    assert trip_of(work) == [TripKind.READBACK_UNEXPECTED]


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        (SELECTOR.nest[0].teach_at_plus.line, TripKind.READBACK_UNEXPECTED),
        (SELECTOR.nest[0].teach_at_minus.line, TripKind.READBACK_UNEXPECTED),
        (SUPPLY_SENSE, TripKind.SUPPLY_WELDED),
    ],
)
@pytest.mark.parametrize("armed", [True, False])
def test_voltage_that_nobody_switched_trips_in_the_callback_that_saw_it(
    line: str, kind: TripKind, armed: bool
) -> None:
    async def main() -> None:
        async with rig(arm=armed) as opened:
            opened.drive(line, 1)
            await asyncio.sleep(0)
            assert kinds(opened) == [kind]
            assert opened.interlock.causes[0].nest == "A"

    run(main())


def test_both_rails_at_once_is_the_wrong_rail() -> None:
    async def work(opened: Rig) -> None:
        await opened.nest.hold_teach(Rail.MINUS, longest_s=2.0)
        opened.drive(SELECTOR.nest[0].teach_at_plus.line, 1)
        await opened.nest.teach_released()

    assert trip_of(work)[0] is TripKind.READBACK_WRONG_RAIL


def test_dead_supply_relay_trips() -> None:
    async def work(opened: Rig) -> None:
        opened.break_relay("supply", dead=True)
        await opened.nest.power_on()

    assert trip_of(work) == [TripKind.SUPPLY_DEAD]


def test_welded_supply_relay_trips() -> None:
    async def work(opened: Rig) -> None:
        await opened.nest.power_on()
        opened.break_relay("supply", welded=True)
        await opened.nest.power_off()
        await settle()
        await opened.nest.power_on()

    assert trip_of(work) == [TripKind.SUPPLY_WELDED]


def test_a_contact_welded_at_a_trip_is_told_beside_the_cause() -> None:
    async def work(opened: Rig) -> None:
        await opened.nest.hold_teach(Rail.PLUS, longest_s=2.0)
        await settle(0.1)
        opened.break_relay("teach_contact", welded=True)
        opened.press_stop()
        await opened.nest.teach_released()

    causes = trip_of(work)
    assert causes[0] is TripKind.STOP_PRESSED
    # The selector falls, for off needs no power, and takes the welded contact to the other rail.
    assert causes[1:]
    assert set(causes[1:]) <= {TripKind.READBACK_WELDED, TripKind.READBACK_UNEXPECTED}


@PROFILES
def test_contact_is_opened_by_the_interlock_before_its_longest_time_is_over(profile: RigProfile) -> None:
    async def main() -> None:
        async with rig(profile) as opened:
            closed_at_s = await opened.nest.hold_teach(Rail.MINUS, longest_s=1.0)
            with pytest.raises(Tripped) as tripped:
                await opened.nest.teach_released()
            assert tripped.value.cause.kind is TripKind.CONTACT_TOO_LONG
            await settle()
            contact = profile.nest[0].teach_relays[1]
            name = "A.teach_contact" if profile is SELECTOR else "A.minus_contact"
            moves = [move for move in opened.simulated.world.record.relays if move.relay == name]
            length_s = moves[-1].at_ns / 1e9 - closed_at_s
            assert moves[-1].place is Place.REST
            assert 1.0 - contact.operate_s - contact.released_s - 0.001 < length_s <= 1.0

    run(main())


def test_held_up_loop_trips_as_late_heartbeat() -> None:
    async def work(opened: Rig) -> None:
        assert isinstance(opened.loop, JumpingLoop)
        await opened.nest.hold_teach(Rail.MINUS, longest_s=2.0)
        opened.loop.block_for(0.3)
        await opened.nest.teach_released()

    causes = trip_of(work)
    assert causes[0] is TripKind.HEARTBEAT_LATE


def test_held_up_loop_trips_without_a_coil_sense_as_well() -> None:
    async def work(opened: Rig) -> None:
        assert isinstance(opened.loop, JumpingLoop)
        await settle()
        opened.loop.block_for(0.3)
        await settle()
        await opened.nest.power_on()

    assert trip_of(work, TWO_RELAY) == [TripKind.HEARTBEAT_LATE]


def test_held_up_program_that_commands_first_of_all_is_stopped_as_well() -> None:
    async def work(opened: Rig) -> None:
        assert isinstance(opened.loop, JumpingLoop)
        opened.loop.block_for(0.3)
        opened.interlock.command(SUPPLY, True)

    assert trip_of(work)[0] is TripKind.HEARTBEAT_LATE


@pytest.mark.parametrize("held_up_s", [0.02, 0.05])
def test_short_hold_up_is_no_reason_to_trip(held_up_s: float) -> None:
    async def main() -> None:
        async with rig() as opened:
            assert isinstance(opened.loop, JumpingLoop)
            await everything_on(opened)
            for _ in range(20):
                opened.loop.block_for(held_up_s)
                await settle(0.07)
            assert opened.interlock.condition is Condition.ARMED

    run(main())


def test_hold_up_while_contacts_move_is_no_reason_to_trip() -> None:
    async def main() -> None:
        async with rig() as opened:
            assert isinstance(opened.loop, JumpingLoop)
            for after_s in (0.0, 0.004, 0.009, 0.012):
                holding = asyncio.ensure_future(opened.nest.hold_teach(Rail.MINUS, longest_s=2.0))
                await settle(0.06 + after_s)
                opened.loop.block_for(0.05)
                await holding
                opened.nest.release_teach()
                await settle(after_s / 3)
                opened.loop.block_for(0.05)
                await opened.nest.teach_released()
            assert opened.interlock.condition is Condition.ARMED

    run(main())


def test_program_that_is_not_heard_drops_the_coils_and_is_told_so() -> None:
    async def work(opened: Rig) -> None:
        await opened.nest.hold_teach(Rail.MINUS, longest_s=5.0)
        opened.simulated.world.coils.hears_program = False
        await opened.nest.teach_released()

    assert trip_of(work)[0] is TripKind.COIL_SUPPLY_LOST


def test_lost_coil_supply_is_found_behind_the_contact_that_fell() -> None:
    async def work(opened: Rig) -> None:
        await opened.nest.hold_teach(Rail.MINUS, longest_s=5.0)
        opened.simulated.world.coils.hears_program = False
        opened.interlock._coil._first = None  # type: ignore[union-attr]
        await opened.nest.teach_released()

    assert trip_of(work)[:2] == [TripKind.COIL_SUPPLY_LOST, TripKind.READBACK_UNEXPECTED]


def test_pressed_stop_is_found_behind_the_coil_supply_that_it_took_away() -> None:
    async def work(opened: Rig) -> None:
        await opened.nest.hold_teach(Rail.MINUS, longest_s=5.0)
        opened.interlock._stop._first = None
        opened.press_stop()
        await opened.nest.teach_released()

    assert trip_of(work)[:2] == [TripKind.STOP_PRESSED, TripKind.COIL_SUPPLY_LOST]
