"""Finds the zone of a unit roughly, and how its output switches, with the target alone: nothing is taught."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from hal.nest import OutputLevel
from rig.sequencer.any_work import AnyWork
from rig.sequencer.output_type import Drive, drive, drive_of
from rig.survey.bounds import Bounds
from rig.survey.recognise import Switching, switching_of
from rig.survey.zone import Span, Zone
from sequences.datasheet import Timing
from wiring.terms import Rail

SEARCH, CLEAR, INSIDE = "search", "search, beam clear", "search, inside"
"""What the readings of a search are recorded as; the last of either of the latter two, under both loads, count."""

# A reading that is not steady is taken again: the unit may have switched just then.
_MOST_UNSTEADY = 3
# An end of the zone is known well enough to be measured when it lies within so much of its distance.
_ROUGH_SHARE = 0.02
# Longest responses that the output is given after the target has come, and is then watched.
_SETTLE, _WATCH = 1.5, 0.5

_STATES = (Drive.FOLLOWS, Drive.HOLDS_PLUS, Drive.HOLDS_MINUS)


class Unsteady(Exception):
    """The output does not keep still while nothing moves."""


class NothingFound(Exception):
    """The output is the same with a clear beam and with the target wherever the zone may be: it always `does`."""

    def __init__(self, does: Drive) -> None:
        super().__init__(f"output {does}, with a clear beam and wherever the target stands")
        self.does = does


class Exploring:
    """Looks for the zone of the unit in the nest, which is powered and available."""

    def __init__(self, work: AnyWork, timing: Timing, bounds: Bounds) -> None:
        response_s = max(timing.response_on_s, timing.response_off_s)
        plan = replace(work.plan, settle_s=_SETTLE * response_s, watch_s=_WATCH * response_s)
        self._work = work.by_plan(plan)
        self._bounds = bounds
        self._clear = Drive.UNCLEAR
        self._inside: Drive | None = None

    async def explore(self) -> Zone:
        """Find the zone; raises Unsteady and NothingFound."""
        await self._work.clear_beam()
        levels = [await self._level(CLEAR, None, load) for load in (Rail.MINUS, Rail.PLUS)]
        self._clear = drive(*levels)
        found_mm, switching = await self._first_detected()
        if found_mm == self._bounds.first_mm:
            return Zone(switching, None, await self._far_end(found_mm))
        inside_mm = await self._well_inside(found_mm)
        near = Span(inside_mm, self._bounds.before(found_mm))
        return Zone(switching, near, await self._far_end(inside_mm))

    async def _first_detected(self) -> tuple[float, Switching]:
        """Go outwards in steps until the output is another one than with a clear beam, under both loads."""
        for at_mm in self._bounds.search_positions_mm():
            await self._work.place(SEARCH, at_mm)
            if await self._detected(SEARCH, at_mm):
                inside = drive_of(await self._work.read_both_ways(INSIDE, at_mm))
                if (switching := switching_of(self._clear, inside)) is not None:
                    self._inside = inside
                    return at_mm, switching
        raise NothingFound(self._clear)

    async def _well_inside(self, found_mm: float) -> float:
        """A position that lies in the smallest window, however its near end lies between two steps."""
        middle_mm = self._bounds.doubt.nearest(found_mm + self._bounds.step_mm / 2)
        return middle_mm if await self._detects_afresh(middle_mm) else found_mm

    async def _far_end(self, inside_mm: float) -> Span | None:
        """Halve the way from inside to the last position until the end of the zone is known roughly."""
        low_mm, high_mm = inside_mm, self._bounds.last_mm
        if await self._detects_afresh(high_mm):
            return None
        while high_mm - low_mm > max(self._bounds.step_mm, _ROUGH_SHARE * low_mm):
            middle_mm = self._bounds.doubt.nearest((low_mm + high_mm) / 2)
            if await self._detects_afresh(middle_mm):
                low_mm = middle_mm
            else:
                high_mm = middle_mm
        # Wider on either side, since one of these readings may have been false.
        width_mm = high_mm - low_mm
        return Span(max(inside_mm, low_mm - width_mm), min(high_mm + width_mm, self._bounds.last_mm))

    async def _detects_afresh(self, at_mm: float) -> bool:
        await self._work.clear_beam()
        await self._work.rest(self._work.plan.settle_s)
        await self._work.place(SEARCH, at_mm)
        return await self._detected(SEARCH, at_mm)

    async def _detected(self, where: str, at_mm: float) -> bool:
        """Whether the output is another one than with a clear beam, under any load that can tell."""
        for load in self._telling_loads():
            if await self._level(where, at_mm, load) is not _level_of(self._clear, load):
                return True
        return False

    def _telling_loads(self) -> Iterator[Rail]:
        """The loads under which the output with the target in the zone is another one than with a clear beam.

        As long as the output type is not known, the first load that tells for every type, else both.
        """
        inside = (
            [self._inside] if self._inside else [one for one in _STATES if switching_of(self._clear, one)]
        )
        told = {
            load: [_level_of(one, load) is not _level_of(self._clear, load) for one in inside]
            for load in Rail
        }
        always = [load for load in Rail if all(told[load])]
        return iter(always[:1] or Rail)

    async def _level(self, where: str, at_mm: float | None, load: Rail) -> OutputLevel:
        for _ in range(_MOST_UNSTEADY):
            reading = await self._work.read(where, at_mm, load)
            level = OutputLevel(reading.level)
            if reading.steady and level in (OutputLevel.AT_PLUS, OutputLevel.AT_MINUS):
                return level
        place = "a clear beam" if at_mm is None else f"the target at {at_mm:.1f} mm"
        raise Unsteady(f"output is at neither rail or does not keep still with {place}")


def _level_of(state: Drive, load: Rail) -> OutputLevel:
    rail = {Drive.HOLDS_PLUS: Rail.PLUS, Drive.HOLDS_MINUS: Rail.MINUS}.get(state, load)
    return OutputLevel.AT_PLUS if rail is Rail.PLUS else OutputLevel.AT_MINUS
