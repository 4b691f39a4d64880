"""What measuring does with its hands: approach from the right side, read, pass by; and what may be wrong there."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

from hal.nest import OutputLevel
from rig.edges.posterior import Reading
from rig.edges.search import Pace
from rig.edges.sweep import Pass
from rig.edges.task import EdgeTask
from rig.measuring.trouble import NotMeasured, Trouble
from rig.sequencer.output_type import is_on, telling_load
from rig.sequencer.work import Work
from wiring.terms import OutputFunction

# One change of the output is an edge on each of its two inputs; more while the target stands still is chatter.
_EDGES_OF_A_CHANGE = 2
# An output may chatter now and then as somebody passes by.
_MOST_UNSTEADY = 3


class Hands:
    """Moves the target and reads the unit of one task; counts both.

    Positions are read soon after the target stands there: the longer it stands, the more often the unit looks, and
    the further before its edge it switches.
    """

    def __init__(self, work: Work, task: EdgeTask) -> None:
        response_s = max(task.response_on_s, task.response_off_s)
        plan = replace(work.plan, settle_s=response_s, watch_s=response_s / 2)
        self._work = replace(work, plan=plan)
        # The work handed in does not see these moves.
        work.beam_is_clear = False
        self._target = work.bench.profile.target
        self._load = telling_load(plan.inspection.output_type)
        self._unsteady = 0
        self.readings = 0
        self.moves = 0

    @property
    def at_mm(self) -> float:
        """Where the target stands; the far end of its way when it is out of the beam."""
        at_mm = self._work.bench.target.position_mm
        return self._target.farthest_mm if at_mm is None else at_mm

    @property
    def exposure_s(self) -> float:
        """For how long the unit can look at a target that has arrived, before its output is read."""
        plan = self._work.plan
        return self._target.settle_s + self._work.nest.profile.load.settle_s + plan.settle_s + plan.watch_s

    def pace(self, seat_mm: float, *, may_swing: bool) -> Pace:
        """What a reading takes that begins at a seat, or out of the beam if it may."""
        speed_mm_s, swing = self._target.speed_mm_s, self._target.swing
        assert speed_mm_s is not None, "the task demands a drive"
        assert swing is not None, "the profile model demands a swing with a drive"
        swing_s = 2 * (self._target.swing_s + swing.settle_s) if may_swing else float("inf")
        response_s = self._work.plan.settle_s
        return Pace(speed_mm_s, self.exposure_s + self._target.settle_s + response_s, seat_mm, swing_s)

    async def prove_zone(self, inside_mm: float) -> None:
        """Nothing may be detected in a clear beam, and the target must be at `inside_mm`; raises NotMeasured."""
        await self._clear()
        if await self._read("clear beam", None):
            raise NotMeasured(Trouble.TARGET_LEFT, "the unit detects something though the beam is clear")
        await self._place("inside", inside_mm)
        if not await self._read("inside", inside_mm):
            raise NotMeasured(
                Trouble.NOT_DETECTED,
                f"the unit does not detect the target at {inside_mm:.1f} mm, inside its zone",
            )

    async def operates_at(self, position_mm: float, pace: Pace) -> bool | None:
        """Whether the unit detects a target that comes from outside its zone; None for an unsteady output."""
        await self._come_from_outside(position_mm, pace)
        return await self._arrive("operate point", position_mm)

    async def releases_at(self, position_mm: float, pace: Pace) -> bool | None:
        """Whether the unit lets go of a target that comes from inside its zone; None for an unsteady output."""
        assert pace.seat_mm is not None, "inside the zone there is always a seat"
        await self._seat_inside(pace.seat_mm)
        detected = await self._arrive("release point", position_mm)
        return None if detected is None else not detected

    async def creep(self, start_mm: float, end_mm: float, step_mm: float, pace: Pace) -> list[Reading]:
        """Come in step by step until the unit detects the target, and once more; every reading on the way.

        What has not switched has nothing to remember, so each of these readings counts like one of its own.
        """
        await self._come_from_outside(start_mm, pace)
        readings: list[Reading] = []
        count = max(1, round(abs(end_mm - start_mm) / step_mm))
        for number in range(count + 1):
            at_mm = start_mm + (end_mm - start_mm) * number / count
            detected = await self._arrive("repeat accuracy", at_mm)
            if detected is None:
                continue
            readings.append(Reading(at_mm, detected))
            if detected and await self._read("repeat accuracy", at_mm):
                break
        return readings

    async def cross(self, start_mm: float, end_mm: float, *, detected: bool) -> Pass | None:
        """Pass by, with the output to end as `detected`; None if it did not change once, and only once."""
        await self._place("pass", start_mm)
        if await self._sees() is detected:
            return None
        with self._changes() as seen:
            start_s = asyncio.get_running_loop().time()
            await self._place("pass", end_mm)
            await self._rest()
        self.readings += 1
        if [state for state, _ in seen] != [detected]:
            return None
        speed_mm_s = self._target.speed_mm_s
        assert speed_mm_s is not None, "the task demands a drive"
        return Pass(start_mm, end_mm, speed_mm_s, start_s, seen[0][1])

    async def _come_from_outside(self, position_mm: float, pace: Pace) -> None:
        if not pace.swings(self.at_mm, position_mm) and pace.seat_mm is not None:
            await self._place("seat", pace.seat_mm)
            if not await self._sees():
                return
        await self._clear()
        if await self._sees() and await self._sees():
            raise NotMeasured(
                Trouble.TARGET_LEFT, "the unit still detects something after the beam was cleared"
            )

    async def _seat_inside(self, seat_mm: float) -> None:
        await self._place("seat", seat_mm)
        if not await self._sees() and not await self._sees():
            raise NotMeasured(
                Trouble.CHANGES_ITS_MIND,
                f"the unit no longer detects the target at {seat_mm:.1f} mm, inside the operate point just found",
            )

    async def _arrive(self, where: str, position_mm: float) -> bool | None:
        await self._place(where, position_mm)
        before = self._work.nest.output_changes
        detected = await self._read(where, position_mm)
        if self._work.nest.output_changes - before <= _EDGES_OF_A_CHANGE:
            return detected
        self._unsteady += 1
        if self._unsteady > _MOST_UNSTEADY:
            raise NotMeasured(
                Trouble.OUTPUT_CHATTERS,
                f"the output keeps changing while the target stands still, last at {position_mm:.1f} mm",
            )
        return None

    async def _read(self, where: str, position_mm: float | None) -> bool:
        self.readings += 1
        for _ in range(_MOST_UNSTEADY):
            reading = await self._work.read(where, position_mm, self._load)
            detected = self._detected(OutputLevel(reading.level))
            if reading.steady and detected is not None:
                return detected
        if reading.steady:
            raise NotMeasured(Trouble.OUTPUT_UNCLEAR, f"the output is {reading.level}, neither on nor off")
        raise NotMeasured(Trouble.OUTPUT_CHATTERS, "the output keeps changing while the target stands still")

    async def _sees(self) -> bool | None:
        await self._rest()
        return self._detected(await self._work.nest.settled_output(self._work.plan.settle_s))

    async def _rest(self) -> None:
        await self._work.bench.waits.sleep(self._work.plan.settle_s)

    async def _place(self, where: str, position_mm: float) -> None:
        self.moves += 1
        await self._work.place(where, position_mm)

    async def _clear(self) -> None:
        self.moves += 1
        await self._work.clear_beam()

    @contextmanager
    def _changes(self) -> Iterator[list[tuple[bool, float]]]:
        """Gather every change of the output while it is watched, with its time."""
        seen: list[tuple[bool, float]] = []
        state = self._detected(self._work.nest.output())

        def note(at_plus: bool, at_minus: bool, at_s: float) -> None:
            nonlocal state
            now = self._detected(OutputLevel.read(at_plus, at_minus))
            if now is not None and now is not state:
                state = now
                seen.append((now, at_s))

        listeners = self._work.nest.output_line.on_edge
        listeners.append(note)
        try:
            yield seen
        finally:
            listeners.remove(note)

    def _detected(self, level: OutputLevel) -> bool | None:
        on = is_on(self._work.plan.inspection.output_type, level)
        inverse = self._work.plan.output_function is OutputFunction.NC
        return None if on is None else on is not inverse
