"""The interlock on the whole bench: what it lets through, what trips it, and that off means off."""

import asyncio
import threading
from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from hal.errors import Refused, TripCause, TripKind, Tripped
from hal.interlock.outputs import OutputId, Outputs
from hal.interlock.rules import Condition, Job
from hal.simulated.bench import SimulatedBench
from hal.simulated.clock import JumpingLoop, run
from hal.simulated.pins import SimulatedPin
from hal.simulated.record import Place, RailsJoined, SelectorMovedUnderLoad
from tests.hal.rigs import SELECTOR, TWO_RELAY, Rig, output_lines, rig
from wiring.profile import RigProfile
from wiring.terms import Rail

PROFILES = pytest.mark.parametrize("profile", [SELECTOR, TWO_RELAY], ids=["selector", "two-relay"])
SUPPLY = OutputId(Job.SUPPLY, "A")
TEACH = OutputId(Job.TEACH_CONTACT, "A")
RAIL_SELECTOR = OutputId(Job.RAIL_SELECTOR, "A")
SUPPLY_SENSE = SELECTOR.nest[0].supply_sense.line  # type: ignore[union-attr]
COIL_SENSE = SELECTOR.coil_supply.sense.line  # type: ignore[union-attr]
ASKED = TripCause(TripKind.ASKED, "asked by the test", "go on")


async def settle(seconds: float = 0.3) -> None:
    await asyncio.sleep(seconds)


def kinds(opened: Rig) -> list[TripKind]:
    return [cause.kind for cause in opened.interlock.causes]


async def everything_on(opened: Rig) -> None:
    """Energise all that may be energised together."""
    opened.interlock.command(OutputId(Job.SWING), True)
    await opened.nest.power_on()
    await opened.nest.pull_output(Rail.PLUS)
    await opened.nest.hold_teach(Rail.PLUS, longest_s=5.0)


# -- conditions ---------------------------------------------------------------------------------------------------


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


def count_edges(opened: Rig, line: str) -> Callable[[], int]:
    seen: list[int] = []
    pin = opened.pin(line)
    sink = pin._sink
    assert sink is not None

    def count(level: int) -> None:
        seen.append(level)
        sink(level)

    pin._sink = count
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


# -- refusals -----------------------------------------------------------------------------------------------------


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


# -- read-back ----------------------------------------------------------------------------------------------------


def trip_of(
    work: Callable[[Rig], Coroutine[Any, Any, object]], profile: RigProfile = SELECTOR, **bench: Any
) -> list[TripKind]:
    """Do `work` until it trips; tells the causes after everything has calmed down."""

    async def main() -> list[TripKind]:
        async with rig(profile, **bench) as opened:
            with pytest.raises(Tripped) as tripped:
                await work(opened)
            assert opened.outputs_on() == []
            assert tripped.value.cause is opened.interlock.causes[0]
            assert tripped.value.check == tripped.value.cause.check != ""
            await settle(1.0)
            assert opened.outputs_on() == []
            return kinds(opened)

    return run(main())


async def touch(opened: Rig, rail: Rail = Rail.MINUS) -> None:
    await opened.nest.hold_teach(rail, longest_s=2.0)
    opened.nest.release_teach()
    await opened.nest.teach_released()
    await settle(1.0)
    await opened.nest.power_on()


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


# -- time ---------------------------------------------------------------------------------------------------------


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


# -- the trip itself ----------------------------------------------------------------------------------------------


class CountingLoop(JumpingLoop):
    """Counts its turns."""

    turns = 0

    def _run_once(self) -> None:
        self.turns += 1
        super()._run_once()  # type: ignore[misc]


def count_run(main: Coroutine[Any, Any, None]) -> None:
    with asyncio.Runner(loop_factory=CountingLoop) as runner:
        runner.run(main)


@PROFILES
def test_stop_button_turns_everything_off_in_the_callback_that_saw_it(
    profile: RigProfile, monkeypatch: pytest.MonkeyPatch
) -> None:
    writes: list[tuple[str, int, float, str]] = []

    async def main() -> None:
        async with rig(profile) as opened:
            loop = opened.loop
            assert isinstance(loop, CountingLoop)
            await everything_on(opened)
            stop = opened.interlock._stop
            sees = stop._changed
            entered: list[tuple[int, float]] = []

            def changed(ticks: float, state: int) -> None:
                entered.append((loop.turns, ticks))
                with no_files():
                    sees(ticks, state)
                entered.append((loop.turns, loop.time()))

            stop._pin.when_changed = changed
            monkeypatch.setattr(SimulatedPin, "_set_state", recorded(writes, loop))
            await settle(0.05)
            writes.clear()
            opened.press_stop()
            await asyncio.sleep(0)
            (turn, edge_s), after = entered
            assert after == (turn, edge_s)
            assert {at for _, _, at, _ in writes} == {edge_s}
            assert {what for _, _, _, what in writes} == {f"turn {turn}"}
            assert opened.outputs_on() == []

    count_run(main())
    lines = [line for line, _, _, _ in writes]
    active = output_lines(profile)
    assert all(level != active[line] for line, level, _, _ in writes)
    assert set(lines) >= set(active)
    nest = profile.nest[0]
    contacts = {relay.line for relay in nest.teach_relays}
    selector = nest.rail_selector.line if nest.rail_selector else None
    contacts -= {selector}
    assert set(lines[: len(contacts)]) == contacts
    assert lines[len(contacts) : len(contacts) + 2] == [nest.supply.line, nest.load.line]
    assert lines[len(active) - 1] == profile.coil_supply.heartbeat.line


def recorded(writes: list[tuple[str, int, float, str]], loop: CountingLoop) -> Callable[..., None]:
    really = SimulatedPin._set_state

    def write(pin: SimulatedPin, value: int) -> None:
        writes.append((str(pin), int(value), loop.time(), f"turn {loop.turns}"))
        really(pin, value)

    return write


class no_files:  # noqa: N801
    """Fails the test when something is opened meanwhile."""

    def __enter__(self) -> None:
        AUDITED.clear()
        AUDITED.append("watching")

    def __exit__(self, *_: object) -> None:
        seen = AUDITED[1:]
        AUDITED.clear()
        assert seen == []


AUDITED: list[str] = []


def _audit(event: str, _: object) -> None:
    if AUDITED and event in ("open", "sqlite3.connect", "socket.connect", "subprocess.Popen", "os.open"):
        AUDITED.append(event)


@pytest.fixture(scope="module", autouse=True)
def _watch_files() -> None:
    import sys

    sys.addaudithook(_audit)


def test_another_thread_trips_while_the_loop_is_stuck() -> None:
    async def main() -> None:
        async with rig() as opened:
            await everything_on(opened)
            told: list[tuple[TripCause, int]] = []
            opened.interlock.on_trip.append(lambda cause: told.append((cause, threading.get_ident())))
            thread = threading.Thread(target=opened.interlock.trip, args=(ASKED,))
            thread.start()
            thread.join()  # the loop does not turn meanwhile
            assert opened.outputs_on() == []
            assert told == []
            with pytest.raises(Tripped):
                opened.interlock.command(SUPPLY, True)
            await settle()
            assert told == [(ASKED, threading.get_ident())]
            assert opened.incidents == []

    run(main())


def test_threads_that_trip_during_commands_leave_nothing_on() -> None:
    async def main() -> None:
        for round_ in range(30):
            async with rig() as opened:
                go = threading.Barrier(2)

                def trip(go: threading.Barrier = go, opened: Rig = opened) -> None:
                    go.wait()
                    opened.interlock.trip(ASKED)

                thread = threading.Thread(target=trip)
                thread.start()
                go.wait()
                with pytest.raises(Tripped):  # noqa: PT012
                    while True:
                        opened.interlock.command(SUPPLY, round_ % 2 == 0)
                        opened.interlock.command(OutputId(Job.LOAD, "A"), True)
                thread.join()
                assert opened.outputs_on() == []

    run(main())


def test_edge_from_a_thread_of_the_gpio_library_trips_in_that_thread() -> None:
    async def main() -> None:
        async with rig() as opened:
            await everything_on(opened)
            edge = opened.interlock._stop._changed
            thread = threading.Thread(target=edge, args=(opened.loop.time(), 0))
            thread.start()
            thread.join()
            assert kinds(opened) == [TripKind.STOP_PRESSED]
            assert opened.outputs_on() == []

    run(main())


def test_output_that_cannot_be_written_does_not_keep_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    really = SimulatedPin._set_state
    broken = {SELECTOR.nest[0].teach_relays[1].line, SELECTOR.nest[0].load.line}

    def write(pin: SimulatedPin, value: int) -> None:
        if str(pin) in broken:
            raise OSError("line lost")
        really(pin, value)

    async def main() -> None:
        async with rig() as opened:
            await everything_on(opened)
            monkeypatch.setattr(SimulatedPin, "_set_state", write)
            opened.interlock.trip(ASKED)
            assert set(opened.outputs_on()) == broken
            assert kinds(opened)[:2] == [TripKind.ASKED, TripKind.OUTPUT_FAILED]
            assert "teach_contact of nest A" in str(opened.interlock.causes[1])
            with pytest.raises(Tripped, match="could not be written"):
                opened.interlock.reset()
            await settle()
            # The heartbeat has ended, so the hardware has opened what could not be written.
            assert not opened.simulated.world.coils.live
            monkeypatch.setattr(SimulatedPin, "_set_state", really)

    run(main())


def test_rest_that_cannot_write_trips(monkeypatch: pytest.MonkeyPatch) -> None:
    async def main() -> None:
        async with rig() as opened:
            monkeypatch.setattr(Outputs, "all_off", lambda _: (SUPPLY, OSError("line lost")))
            opened.interlock.rest()
            assert kinds(opened) == [TripKind.OUTPUT_FAILED]
            monkeypatch.undo()

    run(main())


def test_interrupt_in_the_midst_of_switching_off_switches_off_all_the_same(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    really = SimulatedPin._set_state
    interrupts = [KeyboardInterrupt()]

    def write(pin: SimulatedPin, value: int) -> None:
        if interrupts:
            raise interrupts.pop()
        really(pin, value)

    async def main() -> None:
        async with rig() as opened:
            await everything_on(opened)
            monkeypatch.setattr(SimulatedPin, "_set_state", write)
            opened.interlock.trip(ASKED)
            assert opened.outputs_on() == []

    run(main())


def test_trip_in_the_midst_of_a_command_wins(monkeypatch: pytest.MonkeyPatch) -> None:
    async def main() -> None:
        async with rig() as opened:
            really = Outputs.write

            def write(outputs: Outputs, output: OutputId, on: bool) -> None:
                if on:
                    opened.interlock.trip(ASKED)  # a signal handler, between decision and write
                really(outputs, output, on)

            monkeypatch.setattr(Outputs, "write", write)
            with pytest.raises(Tripped):
                opened.interlock.command(SUPPLY, True)
            assert opened.outputs_on() == []

    run(main())


def test_write_that_fails_trips(monkeypatch: pytest.MonkeyPatch) -> None:
    async def main() -> None:
        async with rig() as opened:

            def write(*_: object) -> None:
                raise OSError("line lost")

            monkeypatch.setattr(Outputs, "write", write)
            with pytest.raises(Tripped, match="line lost"):
                opened.interlock.command(SUPPLY, False)
            monkeypatch.undo()

    run(main())


def test_trip_in_the_midst_of_a_beat_leaves_no_pulse(monkeypatch: pytest.MonkeyPatch) -> None:
    line = SELECTOR.coil_supply.heartbeat.line
    really = SimulatedPin._set_state

    async def main() -> None:
        async with rig() as opened:

            def write(pin: SimulatedPin, value: int) -> None:
                if str(pin) == line and value:
                    opened.interlock.trip(ASKED)
                really(pin, value)

            monkeypatch.setattr(SimulatedPin, "_set_state", write)
            await settle()
            assert kinds(opened) == [TripKind.ASKED]
            assert opened.outputs_on() == []
            monkeypatch.undo()

    run(main())


def test_heartbeat_that_cannot_be_written_trips(monkeypatch: pytest.MonkeyPatch) -> None:
    line = SELECTOR.coil_supply.heartbeat.line
    really = SimulatedPin._set_state

    def write(pin: SimulatedPin, value: int) -> None:
        if str(pin) == line:
            raise OSError("line lost")
        really(pin, value)

    async def main() -> None:
        async with rig() as opened:
            await everything_on(opened)
            monkeypatch.setattr(SimulatedPin, "_set_state", write)
            await settle()
            assert kinds(opened)[0] is TripKind.OUTPUT_FAILED
            monkeypatch.undo()
            assert set(opened.outputs_on()) <= {line}

    run(main())


def test_error_in_an_edge_handler_trips_instead_of_silencing_the_inputs() -> None:
    async def main() -> None:
        async with rig() as opened:

            def stumble(*_: object) -> None:
                raise ZeroDivisionError("stumbled")

            opened.nest.output_line.on_edge.append(stumble)
            await opened.nest.power_on()
            with pytest.raises(Tripped, match="stumbled"):
                await opened.nest.pull_output(Rail.PLUS)
            assert kinds(opened) == [TripKind.PROGRAM]

    run(main())


@pytest.mark.parametrize("check", ["_check_wire", "_check_supply"])
def test_error_in_a_timer_of_the_guard_trips(check: str) -> None:
    async def main() -> None:
        async with rig() as opened:
            guard = opened.interlock.guards["A"]

            def stumble(*_: object) -> bool:
                raise ZeroDivisionError("stumbled")

            judge = {"_check_wire": "_judge_wire", "_check_supply": "_judge_supply"}[check]
            setattr(guard, judge, stumble)
            guard._run(getattr(guard, check))
            assert kinds(opened) == [TripKind.PROGRAM]

    run(main())


def test_listeners_hear_of_a_trip_even_if_one_of_them_fails() -> None:
    async def main() -> None:
        async with rig() as opened:
            heard: list[TripCause] = []

            def stumble(_: TripCause) -> None:
                raise ZeroDivisionError("stumbled")

            opened.interlock.on_trip[:] = [stumble, heard.append]
            opened.interlock.trip(ASKED)
            await settle()
            assert heard == [ASKED]
            assert kinds(opened) == [TripKind.ASKED, TripKind.PROGRAM]

    run(main())


def test_the_first_cause_stays_the_cause_and_repeats_are_not_kept() -> None:
    async def main() -> None:
        async with rig() as opened:
            opened.interlock.trip(ASKED)
            opened.press_stop()
            await settle()
            for _ in range(50):
                opened.interlock.trip(ASKED)
            assert kinds(opened) == [TripKind.ASKED, TripKind.STOP_PRESSED]

    run(main())


# -- after the trip -----------------------------------------------------------------------------------------------


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
