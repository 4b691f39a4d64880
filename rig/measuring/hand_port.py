"""The port of measuring on a bench whose target a person slides: the rig catches the edge, a person or gauge the place."""

from __future__ import annotations

import asyncio
from typing import Protocol

from hal.instruments.distance import DistanceGauge, Track
from hal.operator import NumberRange
from hal.target import ManualTarget
from rig.events import EdgeSlid
from rig.measuring.bench_port import BenchPort
from rig.measuring.port import Port

# After the edge a slide goes on for so long where it need not go to its end: for what the gauge tells later.
_BEYOND_S = 0.6
# Of what the gauge told, this much before and after the switching is kept.
_KEPT_S = 1.5
# A person may take their time, and more the further it is; but nobody slides for ever.
_LEAST_PATIENCE_S, _PATIENCE_FACTOR, _MOST_PATIENCE_S = 60.0, 5.0, 600.0
# Whoever stops late has gone on for so long at most.
_LATE_STOP_S = 3.0


class HandPort(Port, Protocol):
    """A port whose target a person can be asked to slide."""

    async def slide(
        self, start_mm: float, end_mm: float, *, detected: bool, stop_at_edge: bool, hint: str
    ) -> EdgeSlid:
        """Have the target slid slowly from where it stands to `end_mm`; the output should change to `detected`.

        With `stop_at_edge` the slide need not go further. `hint` goes before the words that ask for it.
        """


class BenchHandPort(BenchPort):
    """The unit of one work on a bench with a target along a scale, with a gauge or without."""

    async def slide(
        self, start_mm: float, end_mm: float, *, detected: bool, stop_at_edge: bool, hint: str
    ) -> EdgeSlid:
        """Have the target slid slowly from where it stands to `end_mm`; the output should change to `detected`."""
        bench = self._work.bench
        assert isinstance(bench.target, ManualTarget), "the plan knows how the target is moved"
        self._work.beam_is_clear = False
        sliding = _Sliding(self, bench.target, start_mm, end_mm, hint)
        slid = await (
            sliding.by_scale(detected)
            if bench.gauge is None
            else sliding.by_gauge(detected, bench.gauge, stop_at_edge=stop_at_edge)
        )
        self.note(slid)
        return slid


class _Sliding:
    """One slide under way."""

    def __init__(
        self, port: BenchHandPort, target: ManualTarget, start_mm: float, end_mm: float, hint: str
    ) -> None:
        self._port = port
        self._target = target
        self._start_mm, self._end_mm = start_mm, end_mm
        self._hint = hint
        self._begun_s = port.time_s()

    async def by_scale(self, detected: bool) -> EdgeSlid:
        with self._port.changes(self._target.stop_slide) as seen:
            await self._ask(until_stopped=True)
            told_mm = await self._target.read_scale(self._sensible()) if seen else None
            await self._port.rest()
        return self._slid(detected, seen, told_mm, None)

    async def by_gauge(self, detected: bool, gauge: DistanceGauge, *, stop_at_edge: bool) -> EdgeSlid:
        loop = asyncio.get_running_loop()

        def caught() -> None:
            if stop_at_edge:
                loop.call_later(_BEYOND_S, self._target.stop_slide)

        async with gauge.followed() as track:
            track.on_reading.append(lambda: self._look_at(track))
            with self._port.changes(caught) as seen:
                await self._ask(until_stopped=stop_at_edge)
                await self._port.rest()
        return self._slid(detected, seen, None, track)

    def _look_at(self, track: Track) -> None:
        inward = self._end_mm < self._start_mm
        there = track.readings and (track.readings[-1].position_mm <= self._end_mm) is inward
        if there or track.fault is not None:
            self._target.stop_slide()

    async def _ask(self, *, until_stopped: bool) -> None:
        way_s = abs(self._end_mm - self._start_mm) / self._port.setup.target.by_hand.slide_mm_s
        await self._target.slide(
            self._end_mm,
            towards_face=self._end_mm < self._start_mm,
            until_stopped=until_stopped,
            patience_s=min(_LEAST_PATIENCE_S + _PATIENCE_FACTOR * way_s, _MOST_PATIENCE_S),
            hint=self._hint,
        )

    def _sensible(self) -> NumberRange:
        hand = self._port.setup.target.by_hand
        spare_mm = _LATE_STOP_S * hand.slide_mm_s + 2 * hand.reading_mm
        ends_mm = (self._start_mm, self._end_mm)
        return NumberRange(max(0.0, min(ends_mm) - spare_mm), max(ends_mm) + spare_mm)

    def _slid(
        self, detected: bool, seen: list[tuple[bool, float]], told_mm: float | None, track: Track | None
    ) -> EdgeSlid:
        once = [state for state, _ in seen] == [detected]
        return EdgeSlid(
            self._start_mm,
            self._end_mm,
            detected,
            seen[0][1] - self._begun_s if once else None,
            len(seen),
            told_mm,
            [] if track is None else self._kept(track, [at_s for _, at_s in seen]),
            "" if track is None or track.fault is None else str(track.fault),
        )

    def _kept(self, track: Track, switched_s: list[float]) -> list[list[float]]:
        last = len(track.readings) - 1
        return [
            [round(reading.at_s - self._begun_s, 6), round(reading.position_mm, 6)]
            for number, reading in enumerate(track.readings)
            if number in (0, last) or any(abs(reading.at_s - at_s) <= _KEPT_S for at_s in switched_s)
        ]
