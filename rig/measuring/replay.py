"""Measuring once more, on the record of a unit: the same code comes to the same figures from the same answers."""

from __future__ import annotations

from typing import Protocol, TypeVar

from hal.nest import OutputLevel
from rig.events import (
    EdgePassed,
    EdgeRead,
    EdgeSlid,
    Event,
    PoweredUp,
    Stamped,
    SupplyMeasured,
    TargetMoved,
)
from rig.measuring.bench_port import detected_at
from rig.measuring.port import Setup
from rig.measuring.unit import UnitMeasurement
from rig.planning.plan import Check
from rig.sequencer.any_work import AnyWork
from rig.sequencer.checking import read_check
from rig.sequencer.findings import Finding
from rig.sequencer.output_stage import output_stage
from rig.sequencer.output_type import telling_load
from wiring.profile import RigProfile

_E = TypeVar("_E", bound=Event)


class Record(AnyWork, Protocol):
    """Work on a unit that is only in the record."""

    @property
    def left(self) -> Stamped | None:
        """What comes next in the record; None at its end."""

    def answer(self, kind: type[_E], **known: object) -> _E:
        """The next event, which has to be of a kind; `known` is what this program would have asked for."""


async def measured_again(work: Record, rig: RigProfile) -> Finding:
    """The stage `measured` on the record of a unit on a rig; raises what the record raises."""
    measuring = work.plan.measuring
    assert measuring is not None, "the plan says that the unit is measured"
    return await UnitMeasurement(RecordedPort(work, Setup.of(rig)), work.plan, measuring).run()


class RecordedPort:
    """The port of measuring on a record."""

    def __init__(self, work: Record, setup: Setup) -> None:
        self._work = work
        self._load = telling_load(work.plan.inspection.output_type)
        self.setup = setup

    def time_s(self) -> float:
        """When the next thing happened."""
        return 0.0 if self._work.left is None else self._work.left.at_s

    def note(self, event: Event) -> None:
        """Compare it with what was recorded."""
        self._work.note(event)

    async def place(self, where: str, position_mm: float) -> None:
        """The target came to a position."""
        await self._work.place(where, position_mm)

    async def clear(self) -> None:
        """The target left the beam."""
        await self._work.clear_beam()

    async def look(self, where: str, position_mm: float | None) -> EdgeRead:
        """What the unit said."""
        return self._work.answer(EdgeRead, where=where, position_mm=position_mm, changes=0)

    async def read(self, where: str, position_mm: float | None) -> EdgeRead:
        """The same, by what its output was."""
        reading = await self._work.read(where, position_mm, self._load)
        known = {"where": where, "position_mm": position_mm, "steady": reading.steady}
        detected = detected_at(self._work.plan, OutputLevel(reading.level))
        return self._work.answer(EdgeRead, detected=detected, **known)

    async def go_past(self, start_mm: float, end_mm: float, *, detected: bool) -> EdgePassed:
        """When the output switched."""
        self._work.answer(TargetMoved, where="pass", position_mm=end_mm)
        way = {"start_mm": start_mm, "end_mm": end_mm, "speed_mm_s": self.setup.target.speed_mm_s}
        return self._work.answer(EdgePassed, detected=detected, **way)

    async def slide(
        self, start_mm: float, end_mm: float, *, detected: bool, stop_at_edge: bool, hint: str
    ) -> EdgeSlid:
        """When the output switched, and where the target was then."""
        known = {"start_mm": start_mm, "end_mm": end_mm, "detected": detected}
        return self._work.answer(EdgeSlid, stop_at_edge=stop_at_edge, hint=hint, **known)

    async def output_stage(self) -> Finding | None:
        """What was wrong with output type or function."""
        return await output_stage(self._work)

    async def position(self, check: Check) -> Finding | None:
        """What was wrong at a check position."""
        return await read_check(self._work, check)

    async def supply(self, *, detected: bool) -> SupplyMeasured:
        """What was measured."""
        await self._put(detected)
        return await self._work.measure_supply()

    async def power_up(self, *, detected: bool) -> PoweredUp:
        """When the output came on."""
        position_mm = await self._put(detected)
        await self._work.power_off()
        await self._work.power_on()
        return self._work.answer(PoweredUp, position_mm=position_mm)

    async def _put(self, detected: bool) -> float | None:
        if not detected:
            await self._work.clear_beam()
            return None
        await self._work.place("inside", self._work.plan.inside_mm)
        return self._work.plan.inside_mm
