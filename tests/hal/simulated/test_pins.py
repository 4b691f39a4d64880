"""Real gpiozero devices on the simulated pins."""

from __future__ import annotations

import asyncio
import gc
import threading
import time

import gpiozero
import pytest
from gpiozero.exc import GPIOPinInUse, PinFixedPull, PinInvalidPin, PinSetInput

from hal.simulated.clock import JumpingLoop, run
from hal.simulated.pins import SimulatedPins
from hal.simulated.timeline import Timeline


class Ear:
    def __init__(self, pin):
        self.heard = []
        pin.when_changed = self.hear

    def hear(self, ticks_s, level):
        self.heard.append((ticks_s, level))


@pytest.fixture
def timeline():
    loop = JumpingLoop()
    yield Timeline(loop)
    loop.close()


@pytest.fixture
def factory(timeline):
    return SimulatedPins(timeline)


def test_a_line_has_one_owner(factory):
    with gpiozero.DigitalOutputDevice("GPIO5", pin_factory=factory), pytest.raises(GPIOPinInUse):
        gpiozero.DigitalInputDevice(5, pin_factory=factory)
    gpiozero.DigitalInputDevice("GPIO5", pin_factory=factory).close()


@pytest.mark.parametrize("name", ["GPIO1", "GPIO28", 28, "BCM4", None])
def test_what_is_not_on_the_header_is_refused(factory, name):
    with pytest.raises((PinInvalidPin, gpiozero.GPIOPinMissing)):
        gpiozero.DigitalOutputDevice(name, pin_factory=factory)


def test_an_output_drives_its_sink_only_when_its_level_changes(factory):
    levels = []
    factory.pin("GPIO5").connect(levels.append, idle=0)
    with gpiozero.DigitalOutputDevice("GPIO5", pin_factory=factory) as relay:
        relay.on()
        relay.on()
        relay.off()
        relay.on()
    assert levels == [1, 0, 1, 0]


@pytest.mark.parametrize(
    ("edges", "driven"), [("rising", [1, 1]), ("falling", [0, 0]), ("both", [1, 0, 1, 0])]
)
def test_a_line_may_drive_with_one_kind_of_edge_only(factory, edges, driven):
    levels, pin = [], factory.pin("GPIO5")
    pin.connect(levels.append, idle=0, edges=edges)
    with gpiozero.DigitalOutputDevice("GPIO5", pin_factory=factory) as relay:
        for _ in range(2):
            relay.on()
            assert pin.state == 1
            relay.off()
            assert pin.state == 0
    assert levels == driven


def test_an_active_low_output_opens_without_a_blip_and_falls_to_its_idle_level(factory):
    levels = []
    factory.pin("GPIO5").connect(levels.append, idle=1)
    relay = gpiozero.DigitalOutputDevice("GPIO5", active_high=False, pin_factory=factory)
    assert levels == []
    relay.on()
    relay.close()
    assert levels == [0, 1]


def test_a_line_let_go_is_an_input_again(factory):
    pin = factory.pin("GPIO5")
    gpiozero.DigitalOutputDevice("GPIO5", initial_value=True, pin_factory=factory).close()
    assert pin.function == "input"
    pin.drive(1)
    assert pin.state == 1


def test_closing_the_factory_lets_every_line_fall(factory):
    levels = []
    factory.pin("GPIO5").connect(levels.append, idle=0)
    relay = gpiozero.DigitalOutputDevice("GPIO5", initial_value=True, pin_factory=factory)
    factory.close()
    assert levels == [1, 0]
    relay.close()


def test_an_input_reads_its_pull_until_it_is_driven(factory):
    with gpiozero.DigitalInputDevice("GPIO6", pull_up=True, pin_factory=factory) as key:
        assert not key.is_active
        factory.pin("GPIO6").drive(0)
        assert key.is_active
    with gpiozero.DigitalInputDevice("GPIO7", pull_up=False, pin_factory=factory) as key:
        assert not key.is_active


def test_pulling_a_driven_line_changes_nothing(factory):
    factory.pin("GPIO6").drive(1)
    with gpiozero.DigitalInputDevice("GPIO6", pull_up=False, pin_factory=factory) as line:
        assert line.is_active


def test_an_input_cannot_be_set_and_a_fixed_pull_not_changed(factory):
    with pytest.raises(PinSetInput):
        factory.pin("GPIO6").state = 1
    with pytest.raises(PinFixedPull):
        factory.pin("GPIO2").pull = "down"


def test_edges_carry_the_time_the_physics_made_them():
    async def main():
        timeline = Timeline(asyncio.get_running_loop())
        factory = SimulatedPins(timeline)
        pin = factory.pin("GPIO6")
        ear = Ear(pin)
        timeline.at(1_500_000_001, lambda: pin.drive(1))
        timeline.at(1_500_000_004, lambda: pin.drive(0))
        await asyncio.sleep(2)
        assert factory.ticks() == 2.0
        return ear.heard

    assert run(main()) == [(1.500000001, 1), (1.500000004, 0)]


def test_edges_keep_their_times_when_the_loop_was_blocked():
    async def main():
        loop = asyncio.get_running_loop()
        timeline = Timeline(loop)
        pin = SimulatedPins(timeline).pin("GPIO6")
        ear = Ear(pin)
        timeline.at(100_000_000, lambda: timeline.after(50_000_000, lambda: pin.drive(1)))
        loop.block_for(0.5)
        seen = pin.state
        await asyncio.sleep(0)
        await asyncio.sleep(0)
        return seen, ear.heard

    assert run(main()) == (1, [(0.15, 1)])


def test_only_the_wanted_edges_are_told():
    async def main():
        timeline = Timeline(asyncio.get_running_loop())
        factory = SimulatedPins(timeline)
        heard = {}
        for line, edges in enumerate(("both", "rising", "falling", "none"), start=4):
            pin = factory.pin(line)
            pin.edges = edges
            heard[edges] = Ear(pin)
            with timeline:
                pin.drive(1)
                pin.drive(0)
        await asyncio.sleep(0.01)
        return {edges: [level for _, level in ear.heard] for edges, ear in heard.items()}

    assert run(main()) == {"both": [1, 0], "rising": [1], "falling": [0], "none": []}


def test_listeners_are_never_called_from_inside_a_write():
    async def main():
        timeline = Timeline(asyncio.get_running_loop())
        factory = SimulatedPins(timeline)
        line = factory.pin("GPIO6")
        factory.pin("GPIO5").connect(line.drive, idle=0)
        ear = Ear(line)
        with gpiozero.DigitalOutputDevice("GPIO5", pin_factory=factory) as relay:
            relay.on()
            during = list(ear.heard)
            await asyncio.sleep(0)
            await asyncio.sleep(0)
            return during, list(ear.heard)

    assert run(main()) == ([], [(0.0, 1)])


def test_a_listener_that_fails_does_not_silence_the_others():
    async def main():
        loop = asyncio.get_running_loop()
        failures = []
        loop.set_exception_handler(lambda _, context: failures.append(context["exception"]))
        timeline = Timeline(loop)
        factory = SimulatedPins(timeline)

        class Broken:
            def hear(self, _ticks_s, _level):
                raise ZeroDivisionError

        broken = Broken()
        factory.pin("GPIO6").when_changed = broken.hear
        ear = Ear(factory.pin("GPIO7"))
        with timeline:
            factory.pin("GPIO6").drive(1)
            factory.pin("GPIO7").drive(1)
        await asyncio.sleep(0.1)
        return failures, ear.heard

    failures, heard = run(main())
    assert [type(failure) for failure in failures] == [ZeroDivisionError]
    assert heard == [(0.0, 1)]


def test_a_listener_is_held_weakly_as_gpiozero_does(factory):
    pin = factory.pin("GPIO6")
    ear = Ear(pin)
    assert pin.when_changed == ear.hear
    del ear
    gc.collect()
    assert pin.when_changed is None


def test_a_write_from_another_thread_is_safe_and_its_edges_come_on_the_loop():
    async def main():
        loop = asyncio.get_running_loop()
        timeline = Timeline(loop)
        factory = SimulatedPins(timeline)
        line = factory.pin("GPIO6")
        factory.pin("GPIO5").connect(
            lambda level: timeline.after(1_000_000, lambda: line.drive(level)), idle=0
        )
        threads = []

        class Witness:
            def hear(self, _ticks_s, _level):
                threads.append(threading.current_thread())

        witness = Witness()
        line.when_changed = witness.hear
        with gpiozero.DigitalOutputDevice("GPIO5", pin_factory=factory) as relay:
            await asyncio.to_thread(relay.on)
            await asyncio.sleep(1)
        return threads

    assert run(main()) == [threading.current_thread()]


def test_the_pins_work_without_a_running_loop_and_after_it(timeline, factory):
    levels = []
    factory.pin("GPIO5").connect(lambda level: levels.append((timeline.now_ns, level)), idle=0)
    relay = gpiozero.DigitalOutputDevice("GPIO5", pin_factory=factory)
    relay.on()
    timeline.loop.close()
    relay.close()
    assert levels == [(0, 1), (0, 0)]


def test_on_a_loop_in_real_time_edges_share_its_clock():
    async def main():
        loop = asyncio.get_running_loop()
        timeline = Timeline(loop)
        pin = SimulatedPins(timeline).pin("GPIO6")
        ear = Ear(pin)
        began = loop.time()
        timeline.after(20_000_000, lambda: pin.drive(1))
        time.sleep(0.05)  # noqa: ASYNC251  # blocked on purpose
        await asyncio.sleep(0.005)
        return ear.heard[0][0] - began

    assert asyncio.run(main()) == pytest.approx(0.02, abs=0.002)
