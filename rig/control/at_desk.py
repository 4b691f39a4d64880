"""A desk that hands no unit over once a new shift has to measure its check unit first."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from hal.errors import NoAnswer, TripCause
from hal.waits import Waits
from rig.control.gate import Leave
from rig.events import PersonSignedIn
from rig.sequencer.desk import Desk
from rig.sequencer.findings import Finding


def _wall_clock() -> datetime:
    return datetime.now().astimezone()


class WhileInControl:
    """Another desk as long as its leave lasts; then the work ends before the next unit, and goes on later.

    Args:
        desk: where the units come from.
        leave: until when they may be begun.
        now: the clock on the wall, by which shifts go.

    """

    def __init__(self, desk: Desk, leave: Leave, now: Callable[[], datetime] = _wall_clock) -> None:
        self._desk = desk
        self._leave = leave
        self._now = now
        self.patience_s = desk.patience_s

    @property
    def serials(self) -> Sequence[str]:
        """The units that are still to be done in this run."""
        return self._desk.serials

    @serials.setter
    def serials(self, serials: Sequence[str]) -> None:
        self._desk.serials = serials

    @property
    def signed_in(self) -> PersonSignedIn | None:
        """Who works at the bench from the next unit on."""
        return self._desk.signed_in

    @signed_in.setter
    def signed_in(self, signed_in: PersonSignedIn | None) -> None:
        self._desk.signed_in = signed_in

    async def next_serial(self, waits: Waits, /) -> str | None:
        """The next unit; raises NoAnswer, which ends the work in order, once the leave is over."""
        serial = await self._desk.next_serial(waits)
        if serial is not None and (over := self._leave.over(self._now())):
            raise NoAnswer(over)
        return serial

    async def put_aside(self, serial: str, finding: Finding, waits: Waits, /) -> None:
        """As the other desk has it."""
        await self._desk.put_aside(serial, finding, waits)

    async def wants_reset(self, cause: TripCause, in_work: str | None, /) -> bool:
        """As the other desk has it."""
        return await self._desk.wants_reset(cause, in_work)
