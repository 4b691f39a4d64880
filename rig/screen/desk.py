"""The desk of the screen: units come as they are scanned; the person puts bad ones aside and resets the bench."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from typing import TypeVar

from hal.errors import TripCause, TripKind
from hal.waits import Waits
from rig.events import PersonSignedIn
from rig.screen.view.notices import AsideWanted, Notice, ResetWanted, SerialWanted
from rig.sequencer.findings import Finding

_T = TypeVar("_T")

# What has to be opened anew, since lines or ports may be gone.
_NEEDS_REOPENING = frozenset({TripKind.INSTRUMENT_LOST, TripKind.OUTPUT_FAILED, TripKind.PROGRAM})


class ScanDesk:
    """Waits on the engine's loop for what the screen sends through `Engine.call`.

    Args:
        serials: the units that are still to be done; the work is over when each has been handed over and judged.
        tell: gets a notice of whatever the desk waits for; must only hand it on.
        first: a unit that was scanned before the bench was opened.
        signed_in: who works at the bench; may be changed from any thread, and holds from the next unit on.

    """

    patience_s: float | None = None

    def __init__(
        self,
        serials: Sequence[str],
        tell: Callable[[Notice], object],
        *,
        first: str | None = None,
        signed_in: PersonSignedIn | None = None,
    ) -> None:
        self.serials = serials
        self.signed_in = signed_in
        self.leaving = False
        self._tell = tell
        self._open = dict.fromkeys(serials)
        self._next = first
        self._in_hand: str | None = None
        self._scanned: asyncio.Future[str] | None = None
        self._aside: asyncio.Future[str] | None = None
        self._reset: asyncio.Future[bool] | None = None
        self._tried = False

    # -- asked by the order, on the engine's loop --------------------------------------------------------------

    async def next_serial(self, waits: Waits, /) -> str | None:
        """The unit that was interrupted, else the next one scanned; None once all are done or the person leaves."""
        self._tried = False
        self._open.pop(self._in_hand or "", None)
        serial, self._next = self._next, None
        if self.leaving or not (self._open or serial):
            return None
        if serial is None:
            self._scanned = asyncio.get_running_loop().create_future()
            self._tell(SerialWanted())
            serial = await waits.until(self._scanned)
        self._in_hand = serial or None
        return self._in_hand

    async def put_aside(self, serial: str, finding: Finding, waits: Waits, /) -> None:
        """Wait for the explicit act."""
        self._tried = False
        self._aside = asyncio.get_running_loop().create_future()
        self._tell(AsideWanted(serial, finding.verdict))
        await waits.until(self._aside)

    async def wants_reset(self, cause: TripCause, in_work: str | None, /) -> bool:
        """Wait for the reset of a person, unless they leave, or the bench has to be opened anew."""
        if in_work is not None:
            self._next, self._in_hand = in_work, None
        if self.leaving or cause.kind in _NEEDS_REOPENING:
            return False
        self._reset = asyncio.get_running_loop().create_future()
        self._tell(ResetWanted(cause, in_work, self._tried))
        self._tried = True
        return await self._reset

    # -- said by the person, on the engine's loop --------------------------------------------------------------

    def hand_over(self, serial: str) -> None:
        """The next unit; ignored unless one is waited for."""
        _answer(self._scanned, serial)

    def have_put_aside(self) -> None:
        """The unit that is not good is where it belongs; ignored unless that is waited for."""
        _answer(self._aside, "")

    def reset(self, first: str | None = None) -> None:
        """Reset the bench and go on, with a unit that was scanned before the trip; ignored unless it has tripped."""
        if first is not None and self._reset is not None and not self._reset.done():
            self._next, self._in_hand = first, None
        _answer(self._reset, True)

    def leave(self) -> None:
        """Hand no unit over any more, and reset nothing."""
        self.leaving = True
        _answer(self._scanned, "")
        _answer(self._reset, False)


def _answer(waiting: asyncio.Future[_T] | None, words: _T) -> None:
    if waiting is not None and not waiting.done():
        waiting.set_result(words)
