"""A linear stage that understands G-code: moves the target plate and proves by read-back where it stands."""

from __future__ import annotations

import asyncio
import contextlib
from collections.abc import Sequence
from typing import Final

from hal.errors import InstrumentError, TripKind
from hal.instruments.lines import LineLink, Marker, NoReply
from hal.instruments.wire import Wire
from wiring.instruments import StageDialect
from wiring.saying import say

ANSWER_S: Final = 1.0
"""Longest wait for one answer."""
ARRIVED_MM: Final = 0.05
"""How far the reported position may be from the commanded one."""
HOMING_MM_S: Final = 20.0
"""The slowest homing speed that is waited for."""

_POLL_S = 0.1
# A stage that is short of more than this share of its way, and of more than steps make, did not lose them: it halted.
_HALTED, _LOST_MM = 0.2, 1.0
_ASTRAY_CHECK = "Free the way of the target, look for a loose coupling or belt, then start again."
_LATE_CHECK = (
    "Check that the stage's controller is on and does nothing else, and its cable, then start again."
)
_USUAL = StageDialect()
_SPARE_S = 2.0
_ATTEMPTS = 3
_START_ATTEMPTS = 5  # opening the port resets many controllers, which then are deaf for seconds


class StageDrive:
    """One stage on a wire; sets itself up and homes with the first move, and again after any doubt.

    `speed_mm_s` is the speed of a rapid move, `farthest_mm` the length of travel.
    """

    def __init__(
        self, wire: Wire, *, speed_mm_s: float, farthest_mm: float, dialect: StageDialect = _USUAL
    ) -> None:
        self._dialect = dialect
        self._speed_mm_s = speed_mm_s
        self._farthest_mm = farthest_mm
        self._stands_mm: float | None = None
        self._moving: asyncio.Task[float] | None = None
        self._halted_by = ""
        report = Marker(dialect.report, is_whole=self._is_whole_report, timeout_s=2 * ANSWER_S)
        self._link = LineLink(
            wire, what=say("stage at {name}", name=wire.name), marker=report, on_unsolicited=self._unsolicited
        )

    @property
    def homed(self) -> bool:
        """Whether the stage's zero is known, so that the next move needs no homing."""
        return self._stands_mm is not None

    async def start(self) -> None:
        """See that a stage's controller is there; raises InstrumentError when none answers."""
        try:
            await self._link.find(_START_ATTEMPTS)
        except NoReply as silence:
            raise _late(silence) from silence

    async def position_mm(self) -> float:
        """The position in millimetres that the controller reports now."""
        lines = await self._link.exchange(
            self._dialect.report, ANSWER_S, is_whole=self._is_whole_report, attempts=_ATTEMPTS
        )
        for line in lines:
            if (position_mm := self._dialect.position_mm(line)) is not None:
                return position_mm
        raise self._error(say("refused to report its position: {lines!r}", lines=lines[-1]))

    async def move_to(self, position_mm: float) -> float:
        """Move, and return the position in millimetres read back once the stage stands there.

        Raises InstrumentError when the stage refuses, ends up elsewhere (lost steps), is stopped or its wire
        is lost. Whatever ends a move early, cancelling too, also stops the stage.
        """
        if self._moving is not None:
            raise RuntimeError("the stage is moving already")
        self._halted_by = ""
        self._moving = asyncio.ensure_future(self._go(position_mm))
        try:
            return await self._moving
        except asyncio.CancelledError:
            if not self._halted_by:
                raise
            raise self._error(self._halted_by) from None
        except NoReply as silence:
            raise _late(silence) from silence
        finally:
            if self._moving.cancelled() or self._moving.exception() is not None:
                self.stop()
            self._moving = None

    def stop(self) -> None:
        """Stop the stage at once; a move under way raises InstrumentError. Never raises itself."""
        with contextlib.suppress(InstrumentError):
            self._link.interject(self._dialect.stop.encode("ascii"))
        if self._moving is not None:
            self._halt("was stopped during a move")

    def _halt(self, why: str) -> None:
        self._stands_mm = None
        if self._moving is not None and not self._moving.done():
            self._halted_by = why
            self._moving.cancel()

    def _unsolicited(self, line: str) -> None:
        if not self._dialect.is_chatter(line) and self._dialect.position_mm(line) is None:
            self._halt(say("said {line!r} unasked", line=line))

    async def _go(self, position_mm: float) -> float:
        start_mm = self._stands_mm if self._stands_mm is not None else await self._home()
        await self._command(self._dialect.move_line(position_mm), ANSWER_S, attempts=_ATTEMPTS)
        travel_s = abs(position_mm - start_mm) / self._speed_mm_s
        await asyncio.sleep(travel_s)
        self._stands_mm = await self._arrive(position_mm, travel_s + _SPARE_S, start_mm=start_mm)
        return self._stands_mm

    async def _home(self) -> float:
        for command in self._dialect.set_up:
            await self._command(command, ANSWER_S, attempts=_START_ATTEMPTS)
        longest_s = self._farthest_mm / HOMING_MM_S + _SPARE_S
        await self._command(self._dialect.home, longest_s)
        return await self._arrive(self._dialect.home_mm, longest_s, may_pause=True)

    async def _arrive(
        self, position_mm: float, longest_s: float, *, start_mm: float | None = None, may_pause: bool = False
    ) -> float:
        loop = asyncio.get_running_loop()
        deadline = loop.time() + longest_s
        before_mm: float | None = None
        while abs((at_mm := await self.position_mm()) - position_mm) > ARRIVED_MM:
            stuck = at_mm == before_mm and not may_pause
            if stuck or loop.time() >= deadline:
                raise self._astray(at_mm, position_mm, start_mm)
            before_mm = at_mm
            await asyncio.sleep(_POLL_S)
        return at_mm

    async def _command(self, text: str, timeout_s: float, *, attempts: int = 1) -> None:
        lines = await self._link.exchange(text, timeout_s, is_whole=self._is_reply, attempts=attempts)
        if self._dialect.is_refusal(lines[-1]):
            raise self._error(say("refused {text!r}: {lines!r}", text=text, lines=lines[-1]))

    def _is_reply(self, lines: Sequence[str]) -> bool:
        return self._dialect.is_ok(lines[-1]) or self._dialect.is_refusal(lines[-1])

    def _is_whole_report(self, lines: Sequence[str]) -> bool:
        dialect = self._dialect
        if dialect.is_ok(lines[-1]):
            return any(dialect.position_mm(line) is not None for line in lines)
        return dialect.is_refusal(lines[-1])

    def _astray(self, at_mm: float, position_mm: float, start_mm: float | None) -> InstrumentError:
        """Why the stage is not where it was sent: it halted on its way, or it counts wrongly."""
        way_mm = abs(position_mm - at_mm if start_mm is None else position_mm - start_mm)
        stalled = abs(position_mm - at_mm) > max(_HALTED * way_mm, _LOST_MM)
        kind = TripKind.DRIVE_STALLED if stalled else TripKind.DRIVE_LOST_STEPS
        words = "it halted on its way" if stalled else "it has lost steps"
        where = say(
            "stands at {at_mm:.3f} mm where {position_mm:.3f} mm was commanded",
            at_mm=at_mm,
            position_mm=position_mm,
        )
        return InstrumentError(
            say(
                "{what}: {where}: {words}; look for an obstacle or lost steps",
                what=self._link.what,
                where=where,
                words=words,
            ),
            check=_ASTRAY_CHECK,
            kind=kind,
        )

    def _error(self, what: str) -> InstrumentError:
        return InstrumentError(say("{instrument}: {trouble}", instrument=self._link.what, trouble=what))


def _late(silence: NoReply) -> InstrumentError:
    return InstrumentError(
        say("{silence}: the drive answers late or not at all", silence=silence),
        check=_LATE_CHECK,
        kind=TripKind.DRIVE_LATE,
    )
