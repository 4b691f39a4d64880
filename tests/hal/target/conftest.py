"""A target of each kind on a simulated bench, with a person whose every act the test decides."""

from __future__ import annotations

import asyncio
from types import SimpleNamespace

import pytest

from hal.bench import open_bench
from hal.operator import Request, RequestKind
from hal.simulated.bench import make_bench
from hal.simulated.benchfile import BenchFile
from wiring.profile import RigProfile, Slot, TargetProfile, load_profile, shipped_profiles

BENCH_FILE = BenchFile.model_validate({"title": "Targets", "unit": [{"kind": "barrel-18-rail"}]})
RIG = load_profile(shipped_profiles()["simulated"])
STAGE = RIG.target
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


class TargetBench:
    """The opened bench, what is behind it, and a person who obliges until `act` says otherwise."""

    def __init__(self, profile: TargetProfile, opened, simulated) -> None:
        self.loop = asyncio.get_running_loop()
        self.profile = profile
        self.interlock, self.operator = opened.interlock, opened.operator
        self.target = opened.target
        self.plate = simulated.world.target
        self.wires = simulated.wires
        self.requests: list[Request] = []
        self.act = self.oblige
        self._opened = opened
        self._world = simulated.world
        self.operator.on_request.append(self._asked)

    def trip(self) -> None:
        """Trip the interlock."""
        self.interlock.fault(ValueError("a test"))

    def put_in_slot(self, number: int | None) -> None:
        """Take the target out of the beam, then put it into this slot."""
        self.plate.put_in_beam(False)
        for slot in self.profile.slots:
            if slot.number == number:
                self.plate.start_move(slot.position_mm, 1e6)
                self.plate.put_in_beam(True)

    def drive(self, line: str, level: int) -> None:
        """Put a level on an input line, whatever the target does."""
        with self._world.timeline:
            self._world.pins.pin(line).drive(level)

    def oblige(self, request: Request) -> None:
        if request.kind is RequestKind.PLACE_TARGET and request.slot is not None:
            self.put_in_slot(request.slot)
        elif request.kind is RequestKind.CLEAR_BEAM:
            self.put_in_slot(None)
            self.loop.call_later(0.5, self.operator.done)
        else:
            self.operator.done()

    def _asked(self, request: Request) -> None:
        self.requests.append(request)
        self.loop.call_later(1.0, self.act, request)


@pytest.fixture
def profiles():
    return SimpleNamespace(stage=STAGE, manual=MANUAL, slots=SLOTS)


@pytest.fixture
def bench_of():
    """Open a bench with a target, armed: `async with bench_of(profile) as bench`."""

    class Opened:
        def __init__(self, profile: TargetProfile, *, armed: bool = True) -> None:
            self._profile = profile
            self._armed = armed

        async def __aenter__(self) -> TargetBench:
            rig = RigProfile.model_validate(dict(RIG) | {"target": self._profile})
            simulated = make_bench(rig, BENCH_FILE, asyncio.get_running_loop())
            self._opened = await open_bench(rig, simulated.pin_factory, simulated.wires)
            if self._armed:
                await self._opened.interlock.arm()
            return TargetBench(self._profile, self._opened, simulated)

        async def __aexit__(self, *_: object) -> None:
            await self._opened.close()

    return Opened
