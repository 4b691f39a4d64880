"""The trip: at once, in the thread that saw why, whole, whatever fails meanwhile."""

import asyncio
import threading
from collections.abc import Callable, Coroutine
from typing import Any

import pytest

from hal.errors import TripCause, TripKind, Tripped
from hal.interlock.outputs import OutputId, Outputs
from hal.interlock.rules import Job
from hal.simulated.clock import JumpingLoop
from hal.simulated.pins import SimulatedPin
from tests.hal.rigs import (
    ASKED,
    PROFILES,
    SELECTOR,
    SUPPLY,
    Rig,
    everything_on,
    kinds,
    output_lines,
    rig,
    run,
    settle,
)
from wiring.profile import RigProfile
from wiring.terms import Rail


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


def test_every_cause_is_told_once_and_in_order() -> None:
    async def main() -> None:
        async with rig() as opened:
            trips: list[TripCause] = []
            told: list[TripKind] = []
            opened.interlock.on_trip.append(trips.append)
            opened.interlock.on_cause.append(lambda cause: told.append(cause.kind))
            opened.interlock.trip(ASKED)
            opened.interlock.fault(ZeroDivisionError())
            await settle()
            opened.press_stop()
            await settle()
            assert trips == [ASKED]
            assert told == [TripKind.ASKED, TripKind.PROGRAM, TripKind.STOP_PRESSED]
            opened.press_stop(False)
            opened.interlock.reset()
            opened.interlock.trip(ASKED)
            await settle()
            assert trips == [ASKED, ASKED]
            assert told[3:] == [TripKind.ASKED]

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
