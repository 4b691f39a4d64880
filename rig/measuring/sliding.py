"""One slide on the bench: the rig catches the output's edge; the person's eye or a gauge says where the target was."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import AbstractContextManager

from hal.instruments.distance import DistanceGauge, Track
from hal.operator import NumberRange
from hal.target import ManualTarget
from rig.events import EdgeSlid

# After the edge a slide goes on for so long where it need not go to its end: for what the gauge tells later.
_BEYOND_S = 0.6
# Of what the gauge told, this much before and after a change of the output is kept.
_KEPT_S = 1.5
# A person may take their time, and more the further it is; but nobody slides for ever.
_LEAST_PATIENCE_S, _PATIENCE_FACTOR, _MOST_PATIENCE_S = 60.0, 5.0, 600.0
# Whoever stops late has gone on for so long at most.
_LATE_STOP_S = 3.0

Seen = list[tuple[bool, float]]
"""Changes of the output, each with its time."""
Watch = Callable[[Callable[[], object]], AbstractContextManager[Seen]]


class Sliding:
    """Somebody slides `target`; `watch` gathers the changes of the output, `rest` gives the unit time to answer."""

    def __init__(
        self,
        target: ManualTarget,
        gauge: DistanceGauge | None,
        watch: Watch,
        rest: Callable[[], Awaitable[None]],
    ) -> None:
        self._target = target
        self._gauge = gauge
        self._watch = watch
        self._rest = rest

    async def across(
        self, start_mm: float, end_mm: float, *, detected: bool, stop_at_edge: bool, hint: str
    ) -> EdgeSlid:
        """Have the target slid once; raises NoAnswer when nobody does, and Tripped."""
        begun_s = asyncio.get_running_loop().time()
        told_mm, track = None, Track()
        if self._gauge is None:
            seen, told_mm = await self._to_the_stop(start_mm, end_mm, hint)
        else:
            seen, track = await self._followed(self._gauge, start_mm, end_mm, hint, stop_at_edge=stop_at_edge)
        once = [state for state, _ in seen] == [detected]
        return EdgeSlid(
            start_mm,
            end_mm,
            detected,
            stop_at_edge,
            hint,
            round(seen[0][1] - begun_s, 6) if once else None,
            len(seen),
            told_mm,
            _kept(track, begun_s, seen),
            "" if track.fault is None else str(track.fault),
        )

    async def _to_the_stop(self, start_mm: float, end_mm: float, hint: str) -> tuple[Seen, float | None]:
        """The person stops at the first change of the output, and reads the scale."""
        told_mm = None
        with self._watch(self._target.stop_slide) as seen:
            await self._ask(start_mm, end_mm, hint, until_stopped=True)
            if seen:
                told_mm = await self._target.read_scale(self._sensible(start_mm, end_mm))
            await self._rest()
        return seen, told_mm

    async def _followed(
        self, gauge: DistanceGauge, start_mm: float, end_mm: float, hint: str, *, stop_at_edge: bool
    ) -> tuple[Seen, Track]:
        """The gauge sees when the target is at the end of its way, or far enough."""
        loop = asyncio.get_running_loop()

        def caught() -> None:
            if stop_at_edge:
                loop.call_later(_BEYOND_S, self._target.stop_slide)

        def look() -> None:
            inward = end_mm < start_mm
            there = track.readings and (track.readings[-1].position_mm <= end_mm) is inward
            if there or track.fault is not None:
                self._target.stop_slide()

        async with gauge.followed() as track:
            track.on_reading.append(look)
            with self._watch(caught) as seen:
                await self._ask(start_mm, end_mm, hint, until_stopped=stop_at_edge)
                await self._rest()
        return seen, track

    async def _ask(self, start_mm: float, end_mm: float, hint: str, *, until_stopped: bool) -> None:
        way_s = abs(end_mm - start_mm) / self._target.hand.slide_mm_s
        await self._target.slide(
            end_mm,
            towards_face=end_mm < start_mm,
            until_stopped=until_stopped,
            patience_s=min(_LEAST_PATIENCE_S + _PATIENCE_FACTOR * way_s, _MOST_PATIENCE_S),
            hint=hint,
        )

    def _sensible(self, start_mm: float, end_mm: float) -> NumberRange:
        hand = self._target.hand
        spare_mm = _LATE_STOP_S * hand.slide_mm_s + 2 * hand.reading_mm
        return NumberRange(max(0.0, min(start_mm, end_mm) - spare_mm), max(start_mm, end_mm) + spare_mm)


def _kept(track: Track, begun_s: float, seen: Seen) -> list[list[float]]:
    last = len(track.readings) - 1
    return [
        [round(reading.at_s - begun_s, 6), round(reading.position_mm, 6)]
        for number, reading in enumerate(track.readings)
        if number in (0, last) or any(abs(reading.at_s - at_s) <= _KEPT_S for _, at_s in seen)
    ]
