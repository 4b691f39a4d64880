"""A target of each kind on a bench of pins, with a person who does what they are asked."""

from __future__ import annotations

import asyncio
import math
from types import SimpleNamespace

import pytest

from hal.errors import Tripped
from hal.instruments.wire import STAGE_BAUD
from hal.interlock.interlock import Interlock
from hal.operator import Operator, Request, RequestKind
from hal.simulated.instruments import SimulatedStage, SimulatedWire
from hal.simulated.pins import SimulatedPins
from hal.simulated.target import Target as Plate
from hal.simulated.timeline import Timeline
from hal.target import open_target
from hal.waits import Waits
from wiring.profile import RigProfile, Slot, TargetProfile, load_profile, shipped_profiles

STAGE = load_profile(shipped_profiles()["simulated"]).target
MANUAL = TargetProfile(kind="manual", nearest_mm=20.0, farthest_mm=1500.0, placement_mm=1.0)
SLOTS = TargetProfile(
    kind="slots",
    farthest_mm=1000.0,
    placement_mm=0.5,
    slots=(
        Slot(number=1, position_mm=100.0, line="GPIO9"),
        Slot(number=2, position_mm=250.0, line="GPIO10"),
        Slot(number=3, position_mm=400.0, line="GPIO11", active="low"),
    ),
)


class NoDraw:
    """A plate without placement error."""

    def uniform(self, _low: float, _high: float) -> float:
        return 0.0


class Bench:
    """Real operator, real interlock, real target; simulated pins, plate and stage; a person of the test."""

    def __init__(self, profile: TargetProfile, *, patience_s: float | None = None) -> None:
        loop = asyncio.get_running_loop()
        self.loop = loop
        self.timeline = Timeline(loop)
        self.pins = SimulatedPins(self.timeline)
        self.drive("GPIO17", 1)  # stop button, active low
        self.drive("GPIO11", 1)  # slot 3, active low
        rig = _rig(profile)
        self.waits = Waits(loop)
        self.interlock = Interlock(rig, self.pins, loop, self.waits)
        self.operator = Operator()
        self.requests: list[Request] = []
        self.act = self._oblige
        self.operator.on_request.append(self._asked)
        self.interlock.on_trip.append(lambda cause: self.operator.give_up(Tripped(cause)))
        self.plate = Plate(
            self.timeline, NoDraw(), start_mm=0.0, placement_mm=0.0, side_mm=100.0, swing_s=0.4, in_beam=True
        )
        if profile.swing is not None:
            self.pins.pin(profile.swing.line).connect(lambda level: self.plate.swing(bool(level)), 0)
        self.stage = SimulatedStage(
            self.plate, travel_mm=profile.farthest_mm, speed_mm_s=profile.speed_mm_s or math.nan
        )
        self.wire = SimulatedWire(self.timeline, "sim:stage", self.stage, baud=STAGE_BAUD)
        self.target = open_target(
            profile,
            operator=self.operator,
            interlock=self.interlock,
            waits=self.waits,
            pin_factory=self.pins,
            wires={"sim:stage": self.wire},
            patience_s=patience_s,
        )
        self.profile = profile

    def put_in_slot(self, number: int | None) -> None:
        """Take the target out of every slot, then put it into this one."""
        for slot in self.profile.slots:
            inactive = slot.active.value == "low"
            self.drive(slot.line, inactive ^ (slot.number == number))

    def drive(self, line: str, level: int) -> None:
        """Put a level on an input line."""
        with self.timeline:
            self.pins.pin(line).drive(level)

    async def close(self) -> None:
        self.target.close()
        self.interlock.rest()
        self.interlock.release()
        await asyncio.sleep(0.01)

    def _asked(self, request: Request) -> None:
        self.requests.append(request)
        self.loop.call_later(1.0, self.act, request)

    def _oblige(self, request: Request) -> None:
        if request.kind is RequestKind.PLACE_TARGET and request.slot is not None:
            self.put_in_slot(request.slot)
            return
        if request.kind is RequestKind.CLEAR_BEAM:
            self.put_in_slot(None)
            self.loop.call_later(0.5, self.operator.done)
        else:
            self.operator.done()


def _rig(profile: TargetProfile) -> RigProfile:
    rig = load_profile(shipped_profiles()["simulated"])
    coils = rig.coil_supply.model_copy(update={"sense": None})
    return rig.model_copy(update={"target": profile, "coil_supply": coils})


@pytest.fixture
def profiles():
    return SimpleNamespace(stage=STAGE, manual=MANUAL, slots=SLOTS)


@pytest.fixture
def bench_of():
    """Open a bench with a target, armed: `async with bench_of(profile) as bench`."""

    class Opened:
        def __init__(self, profile: TargetProfile, *, armed: bool = True, **more) -> None:
            self._make = lambda: Bench(profile, **more)
            self._armed = armed

        async def __aenter__(self) -> Bench:
            self._bench = self._make()
            if self._armed:
                await self._bench.interlock.arm()
            return self._bench

        async def __aexit__(self, *_: object) -> None:
            await self._bench.close()

    return Opened
