"""Opening and closing the bench: off first, then released, whatever happens."""

import asyncio
import gc

import pytest
from gpiozero import OutputDevice

from hal.bench import open_bench
from hal.errors import BenchError, BenchInUse, InstrumentError, TripCause, TripKind, Tripped
from hal.operator import Request, RequestKind
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.pins import SimulatedPin
from hal.simulated.supply import Supply
from tests.hal.rigs import SELECTOR, TWO_RELAY, Rig, output_lines, rig, run
from wiring.profile import RigProfile, TargetProfile
from wiring.terms import Rail

MANUAL = SELECTOR.model_copy(
    update={"target": TargetProfile(kind="manual", farthest_mm=1500.0), "foot_switch": None}
)
FITTED = Request(RequestKind.FIT_UNIT, "put the unit into the nest")


def physics(profile: RigProfile = SELECTOR) -> SimulatedBench:
    furnished = BenchFile(title="test", unit=(UnitRow(kind="barrel-18-rail"),))
    return simulate(profile, furnished, asyncio.get_running_loop())


def released(simulated: SimulatedBench, profile: RigProfile = SELECTOR) -> bool:
    return all(simulated.pin_factory.pin(line).function == "input" for line in output_lines(profile))


@pytest.mark.parametrize("profile", [SELECTOR, TWO_RELAY, MANUAL], ids=["selector", "two-relay", "manual"])
def test_every_output_is_written_off_before_any_line_is_released(
    profile: RigProfile, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[tuple[str, str]] = []
    fed: list[bool] = []
    supply: list[Supply] = []
    write, close = SimulatedPin._set_state, SimulatedPin.close
    active = output_lines(profile)

    def written(pin: SimulatedPin, value: int) -> None:
        done.append(("on" if int(value) == active[str(pin)] else "off", str(pin)))
        fed.append(supply[0].is_on)
        write(pin, value)

    def closed(pin: SimulatedPin) -> None:
        done.append(("released", str(pin)))
        close(pin)

    async def main() -> None:
        async with rig(profile) as opened:
            await opened.nest.power_on()
            await opened.nest.hold_teach(Rail.PLUS, longest_s=5.0)
            supply.append(opened.simulated.world.supply)
            monkeypatch.setattr(SimulatedPin, "_set_state", written)
            monkeypatch.setattr(SimulatedPin, "close", closed)
        assert fed[: len(active)] == [True] * len(active)  # relays first, then the supply
        assert released(opened.simulated, profile)
        assert not opened.simulated.world.supply.is_on
        assert opened.incidents == []

    run(main())
    first_release = next(index for index, (what, _) in enumerate(done) if what == "released")
    last_words = {line: what for what, line in done[:first_release] if line in active}
    assert last_words == dict.fromkeys(active, "off")
    assert "on" not in {what for what, _ in done}


def test_an_error_inside_leaves_everything_off_and_goes_on() -> None:
    async def work(kept: list[Rig]) -> None:
        async with rig() as opened:
            kept.append(opened)
            await opened.nest.power_on()
            await opened.nest.hold_teach(Rail.PLUS, longest_s=5.0)
            raise ZeroDivisionError

    async def main() -> None:
        kept: list[Rig] = []
        with pytest.raises(ZeroDivisionError):
            await work(kept)
        assert released(kept[0].simulated)
        assert not kept[0].simulated.world.supply.is_on
        assert kept[0].incidents == []

    run(main())


def test_cancelling_leaves_everything_off() -> None:
    async def work(kept: list[Rig]) -> None:
        async with rig() as opened:
            kept.append(opened)
            await opened.nest.hold_teach(Rail.PLUS, longest_s=50.0)
            await asyncio.sleep(1000)

    async def main() -> None:
        kept: list[Rig] = []
        task = asyncio.ensure_future(work(kept))
        await asyncio.sleep(1.0)
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
        assert released(kept[0].simulated)
        assert not kept[0].simulated.world.supply.is_on

    run(main())


def test_closing_twice_is_closing_once() -> None:
    async def main() -> None:
        simulated = physics()
        bench = await open_bench(SELECTOR, simulated.pin_factory, simulated.wires)
        await bench.close()
        await bench.close()
        assert released(simulated)

    run(main())


def test_supply_that_does_not_answer_at_the_end_does_not_keep_the_lines(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    async def main() -> None:
        async with rig() as opened:

            async def silent() -> None:
                await asyncio.sleep(1000)

            monkeypatch.setattr(opened.bench.supply, "off", silent)
        assert released(opened.simulated)
        assert opened.loop.time() < 20

    run(main())


def test_a_line_in_use_is_told_and_everything_is_given_back() -> None:
    async def main() -> None:
        simulated = physics()
        other = OutputDevice(SELECTOR.nest[0].load.line, pin_factory=simulated.pin_factory)
        with pytest.raises(BenchInUse, match=SELECTOR.nest[0].load.line) as told:
            await open_bench(SELECTOR, simulated.pin_factory, simulated.wires)
        assert told.value.check
        assert released(simulated)
        other.close()

    run(main())


def test_a_line_that_the_board_cannot_drive_is_told_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: object) -> None:
        raise OSError("no such line")

    async def main() -> None:
        simulated = physics()
        monkeypatch.setattr(SimulatedPin, "output_with_state", refuse)
        with pytest.raises(BenchError, match="no such line"):
            await open_bench(SELECTOR, simulated.pin_factory, simulated.wires)

    run(main())


def test_supply_that_does_not_answer_keeps_the_bench_closed() -> None:
    async def main() -> None:
        simulated = physics()
        for wire in simulated.wires.values():
            wire.write = lambda _: None  # type: ignore[method-assign]
        with pytest.raises(InstrumentError):
            await open_bench(SELECTOR, simulated.pin_factory, simulated.wires)
        assert released(simulated)

    run(main())


def test_an_instrument_that_is_lost_trips_the_bench() -> None:
    async def main() -> None:
        async with rig() as opened:
            await opened.nest.power_on()
            wire = next(iter(opened.simulated.wires.values()))
            for tell in wire.on_lost:
                tell(InstrumentError("port sim:supply is lost"))
            (cause,) = opened.interlock.causes
            assert cause.kind is TripKind.INSTRUMENT_LOST
            assert "sim:supply" in cause.words
            assert opened.outputs_on() == []

    run(main())


def test_garbage_collection_does_not_silence_the_stop_button() -> None:
    # gpiozero keeps edge handlers by weak reference only.
    async def main() -> None:
        async with rig() as opened:
            gc.collect()
            opened.press_stop()
            await asyncio.sleep(0.1)
            assert opened.interlock.causes[0].kind is TripKind.STOP_PRESSED

    run(main())


# -- the person ---------------------------------------------------------------------------------------------------


def test_foot_switch_says_done() -> None:
    async def main() -> None:
        async with rig(arm=False) as opened:
            start_s = opened.loop.time()
            opened.loop.call_later(3.0, opened.simulated.world.press_foot_switch)
            await opened.bench.operator.ask(FITTED)
            assert 3.0 < opened.loop.time() - start_s < 3.1

    run(main())


def test_a_foot_switch_that_bounces_answers_once() -> None:
    assert SELECTOR.foot_switch is not None
    line = SELECTOR.foot_switch.line

    async def main() -> None:
        async with rig(arm=False) as opened:
            asked = [asyncio.ensure_future(opened.bench.operator.ask(FITTED)) for _ in range(2)]
            await asyncio.sleep(1.0)
            for level in (0, 1, 0, 1, 0, 1, 0):
                opened.drive(line, level)
                await asyncio.sleep(0.004)
            await asyncio.sleep(1.0)
            assert [task.done() for task in asked] == [True, False]
            opened.bench.operator.done()
            await asyncio.gather(*asked)

    run(main())


def test_a_trip_ends_the_waiting_for_the_person() -> None:
    async def main() -> None:
        async with rig(arm=False) as opened:
            opened.loop.call_later(3.0, opened.press_stop)
            with pytest.raises(Tripped) as tripped:
                await opened.bench.operator.ask(FITTED)
            assert tripped.value.cause.kind is TripKind.STOP_PRESSED

    run(main())


def test_air_is_the_typed_one() -> None:
    async def main() -> None:
        async with rig(arm=False) as opened:
            air = await opened.bench.air.read()
            typed = SELECTOR.air
            assert (air.temperature_c, air.humidity_percent) == (typed.temperature_c, typed.humidity_percent)
            assert air.source == "typed in"

    run(main())


def test_causes_are_words_for_a_person() -> None:
    cause = TripCause(TripKind.ASKED, "the words", "the check", nest="B")
    assert str(cause) == "nest B: the words"
    assert str(Tripped(cause)) == "nest B: the words"
