"""A distance gauge at the target of a hand bench, read again and again with time stamps while a person slides.

The protocol is ours, small enough for a microcontroller between any gauge and the rig. The rig sends a line, the
gauge answers one; both end in a line feed:

    WHO   ->  GAUGE words, such as GAUGE wire encoder 2 m
    POS   ->  POS +123.45   its reading in millimetres when it had the question whole
              POS NONE      it has no reading
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from typing import Final

from hal.errors import InstrumentError
from hal.instruments.lines import LineLink, Marker
from hal.instruments.wire import Wire
from wiring.profile import GaugeProfile, TargetProfile
from wiring.saying import say

ANSWER_S: Final = 0.5
"""Longest wait for one answer."""
POLL_S: Final = 0.05
"""From the beginning of one question to that of the next, while the target is followed."""

_ATTEMPTS = 3
_READING = re.compile(r"POS ([+-]?\d+(?:\.\d+)?)")
_NONE = "POS NONE"


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """Where the gauge saw the target, on the loop's clock give or take `within_s` (half-width)."""

    position_mm: float
    at_s: float
    within_s: float


@dataclass
class Track:
    """What the gauge says while the target is followed, oldest first; `on_reading` listeners are told each.

    `fault` is what silenced the gauge, None while it speaks.
    """

    readings: list[GaugeReading] = field(default_factory=list)
    fault: InstrumentError | None = None
    on_reading: list[Callable[[], None]] = field(default_factory=list)

    def tell(self) -> None:
        """Tell the listeners that there is news."""
        for listener in self.on_reading:
            listener()


class DistanceGauge:
    """One gauge on a wire; call `start` before anything else."""

    def __init__(self, wire: Wire, profile: GaugeProfile) -> None:
        self.identity = ""
        self.profile = profile
        marker = Marker("WHO", is_whole=lambda lines: _is_identity(lines[-1]), timeout_s=2 * ANSWER_S)
        self._link = LineLink(wire, what=say("gauge at {name}", name=wire.name), marker=marker)

    async def start(self) -> None:
        """Ask what it is; raises InstrumentError when it does not say."""
        answer = await self._link.find(_ATTEMPTS)
        self.identity = answer[-1].removeprefix("GAUGE ")

    async def read(self) -> GaugeReading:
        """Read once; raises InstrumentError when it is silent, or has no reading."""
        loop = asyncio.get_running_loop()
        asked_s = loop.time()
        answer = await self._link.ask("POS", ANSWER_S, is_answer=_is_reading)
        waited_s = loop.time() - asked_s
        match = _READING.fullmatch(answer)
        if match is None:
            raise InstrumentError(
                say("{what}: has no reading", what=self._link.what),
                check="Look what hides the target from the gauge.",
            )
        position_mm = self.profile.position_mm(float(match[1]))
        return GaugeReading(position_mm, asked_s + waited_s / 2, waited_s / 2)

    @asynccontextmanager
    async def followed(self) -> AsyncIterator[Track]:
        """Read again and again while the block runs; a silent gauge ends the reading, not the block."""
        track = Track()
        following = asyncio.ensure_future(self._follow(track))
        try:
            yield track
        finally:
            following.cancel()
            with suppress(asyncio.CancelledError):
                await following

    async def _follow(self, track: Track) -> None:
        loop = asyncio.get_running_loop()
        while track.fault is None:
            begun_s = loop.time()
            try:
                track.readings.append(await self.read())
            except InstrumentError as fault:
                track.fault = fault
            track.tell()
            await asyncio.sleep(max(0.0, begun_s + POLL_S - loop.time()))


async def start_gauge(profile: TargetProfile, wires: Mapping[str, Wire]) -> DistanceGauge | None:
    """Make the gauge that the rig profile describes and identify it; None where none is fitted."""
    if profile.gauge is None:
        return None
    gauge = DistanceGauge(wires[profile.gauge.port], profile.gauge)
    await gauge.start()
    return gauge


def _is_identity(line: str) -> bool:
    return line.startswith("GAUGE ")


def _is_reading(line: str) -> bool:
    return line == _NONE or _READING.fullmatch(line) is not None
