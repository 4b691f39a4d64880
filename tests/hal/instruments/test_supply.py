"""The bench supply gives what was set and says what it measures, or the reason is told."""

from __future__ import annotations

import asyncio

import pytest

from hal.errors import InstrumentError
from hal.instruments.supply import FixedSupply, ScpiSupply, error_words, start_supply
from hal.instruments.wire import open_port
from hal.simulated.clock import run
from hal.simulated.instruments import SimulatedSupply, SimulatedWire
from hal.simulated.timeline import Timeline
from tests.hal.ptyport import on_pty
from wiring.profile import SupplyProfile

PROFILE = SupplyProfile(kind="scpi", voltage_v=24.0, current_limit_a=0.25, port="supply")


class BadSupply(SimulatedSupply):
    """Answers some messages otherwise than it should: by `instead`, or not at all where that is None."""

    def __init__(self, physics, instead) -> None:
        super().__init__(physics)
        self.instead = instead
        self.heard: list[str] = []

    def obey(self, line: str) -> None:
        self.heard.append(line)
        if line not in self.instead:
            super().obey(line)
        elif (answer := self.instead[line]) is not None:
            self.answer(answer)


def wire_to(physics, instead=None) -> SimulatedWire:
    timeline = Timeline(asyncio.get_running_loop())
    return SimulatedWire(
        timeline, "supply", BadSupply(physics, {} if instead is None else instead), baud=9600
    )


async def started(physics, instead=None):
    return await start_supply(PROFILE, {"supply": wire_to(physics, instead)})


def test_it_starts_switched_off_with_voltage_and_limit_set(loaded_supply):
    loaded_supply.on = True
    supply = run(started(loaded_supply))
    assert supply.identity == "Simulated bench,24 V supply,1,1.0"
    assert (loaded_supply.on, loaded_supply.voltage_v, loaded_supply.limit_a) == (False, 24.0, 0.25)
    assert ("output", True) not in loaded_supply.acts


def test_errors_of_the_program_before_are_not_ours(loaded_supply):
    async def main():
        wire = wire_to(loaded_supply)
        wire.write(b"WATT?\n")
        await start_supply(PROFILE, {"supply": wire})

    run(main())


def test_on_measure_off(loaded_supply):
    async def main():
        supply = await started(loaded_supply)
        await supply.on()
        assert loaded_supply.on
        assert await supply.voltage_v() == 24.0
        assert await supply.current_a() == pytest.approx(0.030)
        await supply.off()
        assert not loaded_supply.on
        assert await supply.current_a() == 0.0

    run(main())


def test_a_short_on_the_bench_is_found_when_switching_on(loaded_supply):
    async def main():
        supply = await started(loaded_supply)
        loaded_supply.load_ohm = 10.0
        with pytest.raises(InstrumentError, match=r"gives 2\.50 V where 24\.00 V is set; look for a short"):
            await supply.on()

    run(main())


def test_a_slow_rise_is_waited_for(loaded_supply):
    async def main():
        supply = await started(loaded_supply)
        loaded_supply.load_ohm = 10.0
        asyncio.get_running_loop().call_later(0.5, lambda: setattr(loaded_supply, "load_ohm", 800.0))
        await supply.on()
        assert await supply.voltage_v() == 24.0

    run(main())


@pytest.mark.parametrize(
    ("instead", "message"),
    [
        ({"*IDN?": None}, "no answer to '\\*IDN\\?'"),
        ({"SYST:ERR?": None}, "no answer to 'SYST:ERR\\?'"),
        ({"VOLT?": "12.000"}, "asked for VOLT 24.000 but reads back 12"),
        ({"CURR?": "3.0000"}, "asked for CURR 0.250 but reads back 3"),
        ({"OUTP?": "1"}, "OUTP OFF was sent but OUTP\\? answers 1"),
        ({"VOLT?": "-"}, "no answer to 'VOLT\\?' in 1 s; heard '-'"),
        ({"VOLT?": "9.91E37"}, "VOLT\\? gives no reading"),
    ],
)
def test_a_supply_that_does_not_do_as_told_is_not_used(loaded_supply, instead, message):
    with pytest.raises(InstrumentError, match=f"supply at supply: {message}"):
        run(started(loaded_supply, instead))
    assert not loaded_supply.on


def test_refused_settings_are_told_in_the_words_of_the_supply(loaded_supply):
    async def main():
        supply = ScpiSupply(wire_to(loaded_supply), voltage_v=40.0, current_limit_a=0.25)
        await supply.start()

    with pytest.raises(
        InstrumentError, match=r"refused 'VOLT 40\.000': -222 Data out of range \(execution error\)"
    ):
        run(main())


def test_an_error_queue_without_end_is_not_read_for_ever(loaded_supply):
    with pytest.raises(InstrumentError, match="-310 System error"):
        run(started(loaded_supply, {"SYST:ERR?": '-310,"System error"'}))


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ('0,"No error"', None),
        ('+0,"No error"', None),
        ('-113,"Undefined header"', "-113 Undefined header (command error)"),
        ('-222,"Data out of range;VOLT"', "-222 Data out of range;VOLT (execution error)"),
        ('-350,"Queue overflow"', "-350 Queue overflow (device error)"),
        ('-410,"Query INTERRUPTED"', "-410 Query INTERRUPTED (query error)"),
        ('512,"Fan stopped"', "512 Fan stopped (error of its own)"),
    ],
)
def test_error_codes_are_told_by_their_class(entry, words):
    """Classes by hundreds: SCPI-99 volume 2, 21.8 (second-hand)."""
    assert error_words(entry) == words


def test_a_read_error_queue_is_never_read_again_for_the_same_command(loaded_supply):
    """Reading takes the entry out: asked twice, a refusal whose answer was lost would look like success."""

    async def main():
        instead: dict[str, str | None] = {}
        wire = wire_to(loaded_supply, instead)
        supply = await start_supply(PROFILE, {"supply": wire})
        instrument = wire._instrument
        instead["SYST:ERR?"] = None
        before = instrument.heard.count("SYST:ERR?")
        with pytest.raises(InstrumentError):
            await supply.on()
        assert instrument.heard.count("SYST:ERR?") == before + 1

    run(main())


def test_off_now_reaches_the_supply_between_question_and_answer(loaded_supply):
    async def main():
        supply = await started(loaded_supply)
        await supply.on()
        measuring = asyncio.create_task(supply.voltage_v())
        await asyncio.sleep(0.015)  # the question is out, its answer is not here
        supply.off_now()
        await measuring
        await asyncio.sleep(0.05)
        assert not loaded_supply.on
        assert await supply.current_a() == 0.0

    run(main())


def test_a_pulled_plug_ends_the_question_and_off_now_does_not_raise(loaded_supply):
    async def main():
        wire = wire_to(loaded_supply)
        supply = await start_supply(PROFILE, {"supply": wire})
        asyncio.get_running_loop().call_later(0.01, wire.unplug)
        with pytest.raises(InstrumentError, match="unplugged"):
            await supply.voltage_v()
        with pytest.raises(InstrumentError, match="unplugged"):
            await supply.current_a()
        supply.off_now()

    run(main())


def test_a_fixed_supply_knows_its_voltage_and_measures_no_current():
    async def main():
        supply = await start_supply(SupplyProfile(kind="fixed", voltage_v=23.5), {})
        assert isinstance(supply, FixedSupply)
        await supply.on()
        assert await supply.voltage_v() == 23.5
        assert await supply.current_a() is None
        await supply.off()
        supply.off_now()
        assert "typed in" in supply.identity

    run(main())


def test_the_same_over_a_real_terminal(loaded_supply):
    async def main():
        with on_pty(SimulatedSupply(loaded_supply)) as port:
            wire = open_port(port.name, 9600)
            profile = PROFILE.model_copy(update={"port": port.name})
            supply = await start_supply(profile, {port.name: wire})
            await supply.on()
            assert await supply.current_a() == pytest.approx(0.030)
            asyncio.get_running_loop().call_later(0.0005, port.unplug)
            async with asyncio.timeout(0.5):
                with pytest.raises(InstrumentError, match="lost"):
                    await supply.voltage_v()
            wire.close()

    asyncio.run(main())
