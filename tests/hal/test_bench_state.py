"""What the lines of a bench say, for whoever shows it."""

from __future__ import annotations

import asyncio

from hal.bench import BenchState, open_bench
from hal.errors import TripCause, TripKind
from hal.interlock.rules import Condition, WireState
from hal.nest import OutputLevel
from hal.simulated import simulate
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.clock import JumpingLoop
from tests.rig.planned import STAGE
from wiring.terms import LedKind, Rail

ONE_UNIT = BenchFile(title="test", unit=(UnitRow(kind="barrel-18-rail"),))


def test_the_state_follows_supply_wire_contact_target_and_trip() -> None:
    states: dict[str, BenchState] = {}

    async def work() -> None:
        simulated = simulate(STAGE, ONE_UNIT, asyncio.get_running_loop())
        async with await open_bench(STAGE, simulated.pin_factory, simulated.wires) as bench:
            nest = bench.nests[0]
            simulated.next_unit()
            states["rest"] = bench.state()
            await bench.interlock.arm()
            await nest.power_on()
            await bench.target.move_to(300.0)
            await bench.waits.sleep(1.0)
            states["powered"] = bench.state()
            await nest.hold_teach(Rail.MINUS, longest_s=5.0)
            await bench.waits.sleep(0.8)
            states["held"] = bench.state()
            nest.release_teach()
            await nest.teach_released()
            states["released"] = bench.state()
            simulated.world.coils.press_stop(True)
            bench.interlock.trip(TripCause(TripKind.ASKED, "enough", "Look."))
            await asyncio.sleep(0.5)
            states["tripped"] = bench.state()

    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        runner.run(work())

    rest, powered, held, tripped = (states[name] for name in ("rest", "powered", "held", "tripped"))
    assert (rest.condition, rest.coils_supplied, rest.stop_pressed) == (Condition.RESTING, False, False)
    assert (rest.nests[0].supplied, rest.nests[0].teach_wire) == (False, WireState.FLOATING)
    assert rest.nests[0].contact_s is None
    assert (powered.condition, powered.coils_supplied, powered.target_mm) == (Condition.ARMED, True, 300.0)
    assert powered.nests[0].supplied
    assert powered.nests[0].led is not None
    assert powered.nests[0].led.kind is LedKind.STEADY
    assert powered.nests[0].output is OutputLevel.AT_PLUS
    assert held.nests[0].teach_wire is WireState.AT_MINUS
    assert held.nests[0].contact_s is not None
    assert abs(held.nests[0].contact_s - 0.8) < 0.01
    assert states["released"].nests[0].contact_s is None
    assert (tripped.condition, tripped.stop_pressed) == (Condition.TRIPPED, True)
    assert tripped.causes[0].words in ("enough", "the stop button is pressed")
    assert not tripped.nests[0].supplied
    assert tripped.at_s > held.at_s > powered.at_s
