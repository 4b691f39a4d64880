"""The port of measuring on a bench: each answer is noted as it comes."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

from hal.nest import OutputLevel
from hal.target import ManualTarget
from rig.events import EdgePassed, EdgeRead, EdgeSlid, Event, PoweredUp, SupplyMeasured
from rig.measuring.port import Setup
from rig.measuring.sliding import Sliding
from rig.planning.plan import Check, Plan
from rig.sequencer.checking import read_check
from rig.sequencer.findings import Finding
from rig.sequencer.output_stage import output_stage
from rig.sequencer.output_type import is_on, telling_load
from rig.sequencer.work import Work
from wiring.terms import OutputFunction

# What a unit holds in its capacitors is gone by then (our choice).
_FORGETS_S = 0.5


class BenchPort:
    """The unit of one work, its output read `settle_s` after a move and watched for `watch_s`."""

    def __init__(self, work: Work, *, settle_s: float, watch_s: float) -> None:
        self._work = work
        self._quick = replace(work, plan=replace(work.plan, settle_s=settle_s, watch_s=watch_s))
        self._load = telling_load(work.plan.inspection.output_type)
        self.setup = Setup.of(work.bench.profile)

    def time_s(self) -> float:
        """Loop time."""
        return asyncio.get_running_loop().time()

    def note(self, event: Event) -> None:
        """Into the chronicle."""
        self._work.chronicle.note(event)

    async def place(self, where: str, position_mm: float) -> None:
        """Put the target at a position, in the beam."""
        await self._work.place(where, position_mm)

    async def clear(self) -> None:
        """Take the target out of the beam."""
        await self._work.clear_beam()

    async def look(self, where: str, position_mm: float | None) -> EdgeRead:
        """What the unit says as soon as its output has had time to answer."""
        await self._work.bench.waits.sleep(self._quick.plan.settle_s)
        level = await self._work.nest.settled_output(self._quick.plan.settle_s)
        detected = self._detected(level)
        answer = EdgeRead(where, position_mm, detected, level is not OutputLevel.UNSTEADY, 0)
        self.note(answer)
        return answer

    async def read(self, where: str, position_mm: float | None) -> EdgeRead:
        """The same, watched for a while."""
        before = self._work.nest.output_changes
        reading = await self._quick.read(where, position_mm, self._load)
        changes = self._work.nest.output_changes - before
        detected = self._detected(OutputLevel(reading.level))
        answer = EdgeRead(where, position_mm, detected, reading.steady, changes)
        self.note(answer)
        return answer

    async def go_past(self, start_mm: float, end_mm: float, *, detected: bool) -> EdgePassed:
        """Move at constant speed from where the target stands; the output should end as `detected`."""
        speed_mm_s = self.setup.target.speed_mm_s
        assert speed_mm_s is not None, "the task demands a drive"
        with self._changes() as seen:
            start_s = self.time_s()
            await self._work.place("pass", end_mm)
            await self._rest()
        once = [state for state, _ in seen] == [detected]
        passed = EdgePassed(start_mm, end_mm, speed_mm_s, detected, seen[0][1] - start_s if once else None)
        self.note(passed)
        return passed

    async def slide(
        self, start_mm: float, end_mm: float, *, detected: bool, stop_at_edge: bool, hint: str
    ) -> EdgeSlid:
        """Have a person slide the target slowly from where it stands; the output should change to `detected`."""
        bench = self._work.bench
        assert isinstance(bench.target, ManualTarget), "the plan knows how the target is moved"
        self._work.beam_is_clear = False
        sliding = Sliding(bench.target, bench.gauge, self._changes, self._rest)
        slid = await sliding.across(start_mm, end_mm, detected=detected, stop_at_edge=stop_at_edge, hint=hint)
        self.note(slid)
        return slid

    async def output_stage(self) -> Finding | None:
        """What is wrong with output type or function, with the target inside the zone and with a clear beam."""
        return await output_stage(self._work)

    async def position(self, check: Check) -> Finding | None:
        """What is wrong at a check position."""
        return await read_check(self._work, check)

    async def supply(self, *, detected: bool) -> SupplyMeasured:
        """Current and voltage while the target is detected, or the beam clear."""
        await self._put(detected)
        # Away from where the load would be fed: an output that is off draws nothing through it.
        await self._work.nest.pull_output(self._load)
        await self._work.bench.waits.sleep(self._work.plan.settle_s)
        return await self._work.measure_supply()

    async def power_up(self, *, detected: bool) -> PoweredUp:
        """Take the supply away and give it back while the target is detected, or the beam clear."""
        position_mm = await self._put(detected)
        await self._work.nest.pull_output(self._load)
        await self._work.power_off()
        await self._work.bench.waits.sleep(_FORGETS_S)
        with self._changes() as seen:
            supplied_at_s = await self._work.power_on()
            await self._work.bench.waits.sleep(self._work.plan.settle_s)
        on = [at_s for state, at_s in seen if state is detected]
        on_after_s = on[0] - supplied_at_s if len(on) == 1 else None
        event = PoweredUp(position_mm, on_after_s, self._work.nest.profile.supply_doubt_s)
        self.note(event)
        return event

    async def _put(self, detected: bool) -> float | None:
        if not detected:
            await self.clear()
            return None
        await self._work.place("inside", self._work.plan.inside_mm)
        return self._work.plan.inside_mm

    async def _rest(self) -> None:
        """Give the unit time to answer."""
        await self._work.bench.waits.sleep(self._quick.plan.settle_s)

    @contextmanager
    def _changes(self, tell: Callable[[], object] = lambda: None) -> Iterator[list[tuple[bool, float]]]:
        """Gather every change of the output while it is watched, with its time; `tell` is called at each."""
        seen: list[tuple[bool, float]] = []
        state = self._detected(self._work.nest.output())

        def note(at_plus: bool, at_minus: bool, at_s: float) -> None:
            nonlocal state
            now = self._detected(OutputLevel.read(at_plus, at_minus))
            if now is not None and now is not state:
                state = now
                seen.append((now, at_s))
                tell()

        listeners = self._work.nest.output_line.on_edge
        listeners.append(note)
        try:
            yield seen
        finally:
            listeners.remove(note)

    def _detected(self, level: OutputLevel) -> bool | None:
        return detected_at(self._work.plan, level)


def detected_at(plan: Plan, level: OutputLevel) -> bool | None:
    """Whether a unit with that output, under the telling load, detects the target; None where it says neither."""
    on = is_on(plan.inspection.output_type, level)
    return None if on is None else on is not (plan.output_function is OutputFunction.NC)
