"""A bench opened on simulated physics, for the tests of the HAL."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import AbstractContextManager, asynccontextmanager, nullcontext
from dataclasses import dataclass
from typing import Any, TypeVar

import pytest
from gpiozero.pins import Factory

from hal.bench import Bench, open_bench
from hal.errors import TripCause, TripKind, Tripped
from hal.interlock.interlock import Interlock
from hal.interlock.outputs import OutputId
from hal.interlock.rules import Job
from hal.nest import Nest
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.clock import JumpingLoop
from hal.simulated.pins import SimulatedPin
from hal.simulated.relay import Relay
from wiring.profile import Level, RigProfile, find_profile, load_profile
from wiring.terms import Rail

T = TypeVar("T")
SELECTOR = load_profile(find_profile("simulated"))


def _two_relay_profile() -> RigProfile:
    data: dict[str, Any] = SELECTOR.model_dump(mode="json")
    nest = data["nest"][0]
    nest |= {"topology": "two-relay", "rail_selector": None, "teach_contact": None, "supply_sense": None}
    nest |= {
        "plus_contact": {"line": "GPIO6", "active": "low"},
        "minus_contact": {"line": "GPIO13", "active": "low"},
    }
    data["coil_supply"]["sense"] = None
    return RigProfile.model_validate_json(json.dumps(data))


TWO_RELAY = _two_relay_profile()


@dataclass(frozen=True)
class Rig:
    """An open bench, and the physics behind it."""

    bench: Bench
    simulated: SimulatedBench
    loop: asyncio.AbstractEventLoop

    @property
    def interlock(self) -> Interlock:
        return self.bench.interlock

    @property
    def nest(self) -> Nest:
        return self.bench.nests[0]

    def relay(self, name: str) -> Relay:
        return self.simulated.world.nests["A"].relays[name]

    def break_relay(self, name: str, **how: Any) -> None:
        relay = self.relay(name)
        for key, value in how.items():
            setattr(relay, key, value)
        with self.simulated.world.timeline:
            relay.review()

    def press_stop(self, pressed: bool = True) -> None:
        self.simulated.world.coils.press_stop(pressed)

    def pin(self, line: str) -> SimulatedPin:
        return self.simulated.pin_factory.pin(line)

    def drive(self, line: str, level: int) -> None:
        """Put a foreign level on a line."""
        with self.simulated.world.timeline:
            self.pin(line).drive(level)

    def outputs_on(self) -> list[str]:
        """The lines that are driven to their active level."""
        return [
            line for line, active in output_lines(self.bench.profile).items() if self._is_on(line, active)
        ]

    def _is_on(self, line: str, active: int) -> bool:
        pin = self.pin(line)
        return pin.function == "output" and pin.state == active

    @property
    def incidents(self) -> list[object]:
        return list(self.simulated.world.record.incidents)


def output_lines(profile: RigProfile) -> dict[str, int]:
    """Every output of a profile by line, with its active level."""
    nest = profile.nest[0]
    outputs = [profile.coil_supply.heartbeat, nest.supply, nest.load, *nest.teach_relays]
    if profile.target.swing is not None:
        outputs.append(profile.target.swing)
    return {output.line: int(output.active is Level.HIGH) for output in outputs}


def simulated_pins(simulated: SimulatedBench, _profile: RigProfile) -> AbstractContextManager[Factory]:
    return nullcontext(simulated.pin_factory)


# Through which pins the bench reaches the physics; tests of another back end put theirs here.
pins_of: Callable[[SimulatedBench, RigProfile], AbstractContextManager[Factory]] = simulated_pins


@asynccontextmanager
async def rig(
    profile: RigProfile = SELECTOR,
    *,
    kind: str = "barrel-18-rail",
    arm: bool = True,
    before: Callable[[SimulatedBench], None] = lambda _: None,
    **bench: Any,
) -> AsyncIterator[Rig]:
    """Open a bench on physics, with a sound unit in the nest; armed unless told otherwise.

    `before` is done to the physics before the bench is opened.
    """
    loop = asyncio.get_running_loop()
    furnished = BenchFile(title="test", unit=(UnitRow(kind=kind, count=9),), **bench)
    simulated = simulate(profile, furnished, loop)
    before(simulated)
    with pins_of(simulated, profile) as pins:
        async with await open_bench(profile, pins, simulated.wires) as opened:
            simulated.next_unit()
            if arm:
                await opened.interlock.arm()
            yield Rig(opened, simulated, loop)


def run(main: Coroutine[Any, Any, T]) -> T:
    """Run on a loop that gives up after an hour, so that what waits for ever fails soon."""
    with asyncio.Runner(loop_factory=lambda: JumpingLoop(longest_s=3600.0, patience_s=0.0)) as runner:
        return runner.run(main)


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
