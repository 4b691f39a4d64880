"""The desk of a lot at the bench screen: the units come as they were drawn, and what is put aside is recorded."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import cast

from hal.bench import Bench
from hal.waits import Waits
from rig.chronicle import Chronicle
from rig.events import PersonSignedIn, UnitNamed, UnitPutAside
from rig.screen.desk import ScanDesk
from rig.screen.view.notices import Notice, SerialWanted
from rig.sequencer.findings import Finding
from rig.sequencer.order_run import OrderResult
from rig.session import Session


class LotScanDesk(ScanDesk):
    """Hands over whatever the screen sends, as often as it does; ends when it is told to leave.

    Attributes:
        marks: serials of their own that were read, by the unit's serial in the record, and are not recorded yet.
        chronicle: of the session that it works for.

    """

    def __init__(
        self,
        serials: Sequence[str],
        tell: Callable[[Notice], object],
        *,
        first: str | None = None,
        signed_in: PersonSignedIn | None = None,
    ) -> None:
        super().__init__(serials, tell, first=first, signed_in=signed_in)
        self.marks: dict[str, str] = {}
        self.chronicle: Chronicle | None = None

    async def next_serial(self, waits: Waits, /) -> str | None:
        """The unit that was interrupted, else the next one that is handed over."""
        self._tried = False
        serial, self._next = self._next, None
        if self.leaving:
            return None
        if serial is None:
            self._scanned = asyncio.get_running_loop().create_future()
            self._tell(SerialWanted())
            serial = await waits.until(self._scanned)
        self._in_hand = serial or None
        self._name(serial or "")
        return self._in_hand

    async def put_aside(self, serial: str, finding: Finding, waits: Waits, /) -> None:
        """Wait for the explicit act, and record it."""
        await super().put_aside(serial, finding, waits)
        if self.chronicle is not None:
            person = "" if self.signed_in is None else self.signed_in.person
            self.chronicle.note(UnitPutAside(finding.verdict, person))

    def _name(self, serial: str) -> None:
        mark = self.marks.pop(serial, "")
        if mark and self.chronicle is not None:
            self.chronicle.serial = serial
            self.chronicle.note(UnitNamed(mark))


@dataclass(frozen=True)
class LotScreenSession(Session):
    """Units of a lot, handed over at the bench screen."""

    async def work(self, bench: Bench, chronicle: Chronicle) -> OrderResult:
        """Unit after unit."""
        cast("LotScanDesk", self.desk).chronicle = chronicle
        return await Session.work(self, bench, chronicle)
