"""Inputs: levels, pulls, time stamps, and the filter for contacts that bounce."""

import asyncio
import threading

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hal.inputs import Input, QuietInput
from hal.simulated.clock import run
from hal.simulated.pins import SimulatedPins
from hal.simulated.timeline import Timeline
from hal.waits import Waits
from tests.looking import examples
from wiring.lines import InputLine, Level

QUIET_S = 0.02


class Wired:
    """One input on a simulated line."""

    def __init__(self, line: str = "GPIO17", active: Level = Level.HIGH, **how: bool) -> None:
        self.loop = asyncio.get_running_loop()
        self.timeline = Timeline(self.loop)
        self.pins = SimulatedPins(self.timeline)
        self.errors: list[BaseException] = []
        self.edges: list[tuple[bool, float]] = []
        self.line = line
        self.input = Input(
            InputLine(line=line, active=active), self.pins, self.loop, on_error=self.errors.append, **how
        )
        self.input.on_edge.append(lambda active, at_s: self.edges.append((active, at_s)))
        self.waits = Waits(self.loop)

    def drive(self, level: int) -> None:
        with self.timeline:
            self.pins.pin(self.line).drive(level)

    def quiet(self) -> QuietInput:
        return QuietInput(self.input, self.loop, self.waits, quiet_s=QUIET_S)


@pytest.mark.parametrize("active", list(Level))
def test_an_open_line_reads_inactive_unless_it_is_to_read_active(active: Level) -> None:
    async def main() -> None:
        assert not Wired(active=active).input.active
        assert Wired(active=active, pulled_active=True).input.active

    run(main())


@pytest.mark.parametrize("active", list(Level))
def test_a_line_with_a_fixed_pull_can_be_used(active: Level) -> None:
    async def main() -> None:
        wired = Wired("GPIO2", active)
        assert wired.input.active is (active is Level.HIGH)

    run(main())


def test_edges_are_told_with_the_time_of_the_edge() -> None:
    async def main() -> None:
        wired = Wired(active=Level.LOW)
        await asyncio.sleep(1.5)
        wired.drive(0)
        await asyncio.sleep(0.25)
        wired.drive(1)
        await asyncio.sleep(0)
        assert wired.edges == [(True, 1.5), (False, 1.75)]
        assert wired.input.last_edge_s == 1.75
        assert "GPIO17" in repr(wired.input)

    run(main())


@pytest.mark.parametrize("ticks", [-5.0, 1.7e9, float("nan")])
def test_time_stamps_of_another_clock_are_not_believed(ticks: float) -> None:
    async def main() -> None:
        wired = Wired()
        await asyncio.sleep(100.0)
        wired.input._changed(ticks, 1)
        assert wired.edges == [(True, 100.0)]

    run(main())


def test_edges_of_another_thread_are_told_on_the_loop() -> None:
    async def main() -> None:
        wired = Wired()
        threads: list[int] = []
        wired.input.on_edge.append(lambda *_: threads.append(threading.get_ident()))
        thread = threading.Thread(target=wired.input._changed, args=(0.0, 1))
        thread.start()
        thread.join()
        assert wired.edges == []
        await asyncio.sleep(0.001)
        assert threads == [threading.get_ident()]

    run(main())


def test_an_error_of_a_listener_is_handed_over() -> None:
    async def main() -> None:
        wired = Wired()

        def stumble(*_: object) -> None:
            raise ZeroDivisionError

        wired.input.on_edge.append(stumble)
        wired.drive(1)
        wired.input._first = stumble
        wired.drive(0)
        await asyncio.sleep(0.1)
        assert [type(error) for error in wired.errors] == [ZeroDivisionError] * 2

    run(main())


def test_quiet_input_tells_a_bouncing_contact_once_and_with_its_first_edge() -> None:
    async def main() -> None:
        wired = Wired()
        changes: list[tuple[bool, float]] = []
        quiet = wired.quiet()
        quiet.on_change.append(lambda active, at_s: changes.append((active, at_s)))
        await asyncio.sleep(1.0)
        for level in (1, 0, 1, 0, 1):
            wired.drive(level)
            await asyncio.sleep(0.005)
        assert not quiet.active
        await asyncio.sleep(1.0)
        assert changes == [(True, 1.0)]
        assert quiet.active

    run(main())


def test_quiet_input_does_not_tell_a_burst_that_comes_to_nothing() -> None:
    async def main() -> None:
        wired = Wired()
        changes: list[bool] = []
        quiet = wired.quiet()
        quiet.on_change.append(lambda active, _: changes.append(active))
        wired.drive(1)
        await asyncio.sleep(0.01)
        waiting = asyncio.ensure_future(quiet.wait_for(False, 1.0))
        wired.drive(0)
        assert await waiting == 0.0
        assert changes == []

    run(main())


def test_waiting_for_a_level() -> None:
    async def main() -> None:
        wired = Wired()
        quiet = wired.quiet()
        assert await quiet.wait_for(False) == 0.0
        assert await quiet.wait_for(True, 2.0) is None
        assert wired.loop.time() == pytest.approx(2.0)
        wired.loop.call_later(1.0, wired.drive, 1)
        assert await quiet.wait_for(True, 2.0) == pytest.approx(3.0)
        assert wired.loop.time() == pytest.approx(3.0 + QUIET_S)

    run(main())


@settings(max_examples=examples(40))
@given(st.lists(st.tuples(st.integers(0, 1), st.floats(0.001, 0.06)), min_size=1, max_size=30))
def test_quiet_input_ends_at_the_level_of_the_line(edges: list[tuple[int, float]]) -> None:
    async def main() -> None:
        wired = Wired()
        quiet = wired.quiet()
        changes: list[tuple[bool, float]] = []
        quiet.on_change.append(lambda active, at_s: changes.append((active, at_s)))
        for level, pause_s in edges:
            wired.drive(level)
            await asyncio.sleep(pause_s)
        await asyncio.sleep(1.0)
        assert quiet.active is wired.input.active
        assert [active for active, _ in changes] == [index % 2 == 0 for index in range(len(changes))]
        told = [at_s for _, at_s in changes]
        assert told == sorted(told)

    run(main())


def test_a_line_given_back_in_the_middle_of_a_burst_is_not_read_again() -> None:
    async def main() -> None:
        wired = Wired()
        faults: list[object] = []
        wired.loop.set_exception_handler(lambda _, fault: faults.append(fault))
        quiet = wired.quiet()
        wired.drive(1)
        await asyncio.sleep(QUIET_S / 2)
        wired.input.close()
        # As pins of a board are once they are closed.
        wired.input._pin = None  # type: ignore[assignment]
        await asyncio.sleep(2 * QUIET_S)
        assert (quiet.active, faults) == (False, [])

    run(main())
