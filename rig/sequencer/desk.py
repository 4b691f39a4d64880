"""The desk: where the units of an order come from, where they go, and who resets the bench after a trip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from hal.errors import TripCause
from hal.target.target import PATIENCE_S
from hal.waits import Waits
from rig.events import PersonSignedIn
from rig.sequencer.findings import Finding


class Desk(Protocol):
    """What an order asks of whoever hands the units over; everything here is called on the engine's loop.

    Attributes:
        serials: the units that are still to be done in this run.
        patience_s: how long the person may take to put a unit in or take it out; None: as long as they like,
            since nothing is energised meanwhile.
        signed_in: who works at the bench from the next unit on; None if nobody has ever said so.

    """

    serials: Sequence[str]
    patience_s: float | None
    signed_in: PersonSignedIn | None

    async def next_serial(self, waits: Waits, /) -> str | None:
        """The next unit, None when there is none any more; raises Tripped."""

    async def put_aside(self, serial: str, finding: Finding, waits: Waits, /) -> None:
        """Return once a unit that is not good has been put aside; raises Tripped."""

    async def wants_reset(self, cause: TripCause, in_work: str | None, /) -> bool:
        """Wait for the person's word after a trip: whether to reset the bench and go on.

        `in_work` is the unit that the trip interrupted, if one was in work. Told again, with what stands in the
        way, when a reset was not possible.
        """


class Listed:
    """Hands the units over as the order lists them, without a person; a trip ends the work."""

    patience_s: float | None = PATIENCE_S

    def __init__(self, serials: Sequence[str], signed_in: PersonSignedIn | None = None) -> None:
        self.serials = serials
        self.signed_in = signed_in
        self._next = iter(serials)

    async def next_serial(self, _: Waits, /) -> str | None:
        """The next of the list."""
        return next(self._next, None)

    async def put_aside(self, _serial: str, _finding: Finding, _waits: Waits, /) -> None:
        """Nothing more than to take it out, as was asked before."""

    async def wants_reset(self, _cause: TripCause, _in_work: str | None, /) -> bool:
        """Never: nobody is there to say that the cause is gone."""
        return False
