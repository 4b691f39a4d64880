"""What every back end of the pins has to do for real gpiozero devices; each runs these tests as its own.

A module makes them its own with a subclass of each that says how its pins are opened:

    class TestOutputs(OutputContract):
        opened = staticmethod(opened_somehow)
"""

from __future__ import annotations

import asyncio
import gc
import time
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from typing import Any, Protocol

import pytest
from gpiozero import DigitalOutputDevice, GPIOPinMissing, InputDevice, OutputDevice
from gpiozero.exc import GPIOPinInUse, PinFixedPull, PinInvalidPin, PinSetInput
from gpiozero.pins import Factory


class PinRig(Protocol):
    """Open pins, and the copper outside."""

    factory: Factory
    pace_s: float
    """Edges closer than this merge on the way; where it is not 0, some may all the same on a busy machine."""

    def drive(self, line: str, level: int) -> None:
        """Put an outside level on a line."""

    def driven(self, line: str) -> list[int | None]:
        """Every level that a line was driven to, None for 'not driven'; only what has changed."""

    def run(self, main: Any) -> None:
        """Run a coroutine on a loop of the kind that the back end is for."""


Opened = Callable[[], AbstractAsyncContextManager[PinRig]]


class PinContract:
    """Opens the pins on a loop and does the test's work there."""

    opened: Opened

    def on_pins(self, work: Callable[[PinRig], Any]) -> None:
        async def main() -> None:
            async with self.opened() as pins:
                await work(pins)

        self.run(main())

    def run(self, main: Any) -> None:
        asyncio.run(main)


class OutputContract(PinContract):
    """Outputs."""

    @pytest.mark.parametrize("active_high", [True, False])
    def test_an_output_opens_off_without_a_pulse(self, active_high: bool) -> None:
        async def work(pins: PinRig) -> None:
            off = int(not active_high)
            relay = OutputDevice("GPIO13", active_high=active_high, pin_factory=pins.factory)
            assert set(pins.driven("GPIO13")) <= {off}
            assert relay.value == 0
            relay.on()
            assert pins.driven("GPIO13")[-1] == 1 - off
            relay.off()
            assert pins.driven("GPIO13")[-1] == off
            relay.close()

        self.on_pins(work)

    def test_a_line_let_go_of_is_an_input_again(self) -> None:
        async def work(pins: PinRig) -> None:
            relay = OutputDevice("GPIO13", initial_value=True, pin_factory=pins.factory)
            pin = relay.pin
            relay.close()
            assert pin.function == "input"
            with InputDevice("GPIO13", pin_factory=pins.factory) as line:
                pins.drive("GPIO13", 1)
                assert line.is_active

        self.on_pins(work)

    def test_a_line_has_one_owner(self) -> None:
        async def work(pins: PinRig) -> None:
            with (
                DigitalOutputDevice("GPIO5", pin_factory=pins.factory),
                pytest.raises(GPIOPinInUse, match="GPIO5"),
            ):
                InputDevice(5, pin_factory=pins.factory)
            InputDevice("GPIO5", pin_factory=pins.factory).close()

        self.on_pins(work)

    @pytest.mark.parametrize("name", ["GPIO1", "GPIO28", 28, "BCM4", None])
    def test_what_is_not_on_the_header_is_refused(self, name: object) -> None:
        async def work(pins: PinRig) -> None:
            with pytest.raises((PinInvalidPin, GPIOPinMissing)):
                OutputDevice(name, pin_factory=pins.factory)

        self.on_pins(work)

    def test_a_write_from_another_thread_is_carried_out(self) -> None:
        async def work(pins: PinRig) -> None:
            with OutputDevice("GPIO13", pin_factory=pins.factory) as relay:
                await asyncio.to_thread(relay.on)
                assert pins.driven("GPIO13")[-1] == 1

        self.on_pins(work)

    def test_closing_the_factory_lets_every_line_fall_even_twice(self) -> None:
        async def work(pins: PinRig) -> None:
            OutputDevice("GPIO13", initial_value=True, pin_factory=pins.factory)
            pins.factory.close()
            assert pins.driven("GPIO13")[-1] != 1
            pins.factory.close()

        self.on_pins(work)


class InputContract(PinContract):
    """Inputs and their edges."""

    def test_an_input_reads_its_pull_until_it_is_driven(self) -> None:
        async def work(pins: PinRig) -> None:
            with InputDevice("GPIO6", pull_up=True, pin_factory=pins.factory) as key:
                assert not key.is_active
                pins.drive("GPIO6", 0)
                assert key.is_active
            with InputDevice("GPIO7", pull_up=False, pin_factory=pins.factory) as key:
                assert not key.is_active

        self.on_pins(work)

    def test_an_input_cannot_be_set_and_a_fixed_pull_not_changed(self) -> None:
        async def work(pins: PinRig) -> None:
            with InputDevice("GPIO6", pin_factory=pins.factory) as line, pytest.raises(PinSetInput):
                line.pin.state = 1
            with (
                InputDevice("GPIO2", pull_up=True, pin_factory=pins.factory) as line,
                pytest.raises(PinFixedPull),
            ):
                line.pin.pull = "down"

        self.on_pins(work)

    def test_edges_carry_the_loops_time_and_come_in_their_order(self) -> None:
        async def work(pins: PinRig) -> None:
            loop = asyncio.get_running_loop()
            ear = Ear(pins, "GPIO6", "GPIO7")
            before_s = loop.time()
            # The later line of the two changes first.
            for line, level in (("GPIO7", 1), ("GPIO6", 1), ("GPIO7", 0)):
                pins.drive(line, level)
                time.sleep(0.0005 + pins.pace_s)  # noqa: ASYNC251  # they pile up on purpose
            after_s = loop.time()
            await asyncio.sleep(0.01 + pins.pace_s)
            assert [what for _, *what in ear.heard] == [["GPIO7", 1], ["GPIO6", 1], ["GPIO7", 0]]
            times_s = [at_s for at_s, *_ in ear.heard]
            assert before_s <= times_s[0] <= times_s[1] <= times_s[2] <= after_s
            ear.close()

        self.on_pins(work)

    @pytest.mark.parametrize(
        ("edges", "levels"), [("both", [1, 0]), ("rising", [1]), ("falling", [0]), ("none", [])]
    )
    def test_only_the_wanted_edges_are_told(self, edges: str, levels: list[int]) -> None:
        async def work(pins: PinRig) -> None:
            ear = Ear(pins, "GPIO6", edges=edges)
            pins.drive("GPIO6", 1)
            time.sleep(pins.pace_s)  # noqa: ASYNC251  # for a kernel that comes late
            pins.drive("GPIO6", 0)
            await asyncio.sleep(0.01 + pins.pace_s)
            assert [level for *_, level in ear.heard] == levels
            ear.close()

        self.on_pins(work)

    def test_a_listener_that_fails_does_not_silence_the_others(self) -> None:
        async def work(pins: PinRig) -> None:
            failures: list[BaseException] = []
            asyncio.get_running_loop().set_exception_handler(
                lambda _, context: failures.append(context["exception"])
            )
            ear = Ear(pins, "GPIO6", "GPIO7", fails_on="GPIO6")
            for level in (1, 0):
                pins.drive("GPIO6", level)
                pins.drive("GPIO7", level)
                await asyncio.sleep(0.01)
            assert [type(failure) for failure in failures] == [ZeroDivisionError] * 2
            assert [level for *_, level in ear.heard] == [1, 0]
            ear.close()

        self.on_pins(work)

    def test_edges_that_pile_up_while_the_loop_is_held_up_are_all_told(self) -> None:
        async def work(pins: PinRig) -> None:
            ear = Ear(pins, "GPIO6")
            for count in range(400):
                pins.drive("GPIO6", (count + 1) % 2)
                time.sleep(pins.pace_s)  # noqa: ASYNC251  # held up on purpose
            end_s = asyncio.get_running_loop().time() + 5.0
            while len(ear.heard) < 400 and asyncio.get_running_loop().time() < end_s:  # noqa: ASYNC110  # no event
                await asyncio.sleep(0.01)
            # Which way a quick edge went is read late by the kernel: only their number is sure.
            assert 400 >= len(ear.heard) >= (200 if pins.pace_s else 400), len(ear.heard)
            ear.close()

        self.on_pins(work)

    def test_a_listener_is_held_weakly_as_gpiozero_does(self) -> None:
        async def work(pins: PinRig) -> None:
            ear = Ear(pins, "GPIO6")
            device = ear.devices[0]
            assert device.pin.when_changed is not None
            ear.listeners.clear()
            gc.collect()
            assert device.pin.when_changed is None
            ear.close()

        self.on_pins(work)


class Ear:
    """Listens to some inputs."""

    def __init__(self, pins: PinRig, *lines: str, edges: str = "both", fails_on: str | None = None) -> None:
        self.heard: list[tuple[float, str, int]] = []
        self.listeners: list[Any] = []
        self.devices = [InputDevice(line, pin_factory=pins.factory) for line in lines]
        for line, device in zip(lines, self.devices, strict=True):
            listener = self._listener(line, fails=line == fails_on)
            self.listeners.append(listener)
            device.pin.edges = edges
            device.pin.when_changed = listener

    def _listener(self, line: str, *, fails: bool) -> Callable[[float, int], None]:
        def listen(ticks_s: float, level: int) -> None:
            if fails:
                raise ZeroDivisionError
            self.heard.append((ticks_s, line, level))

        return listen

    def close(self) -> None:
        for device in self.devices:
            device.close()
