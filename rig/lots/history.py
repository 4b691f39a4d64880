"""What earlier lots of a supplier say: how they were decided, and how strictly the next one is inspected. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rig.events import LotClosed, LotOpened, LotReopened, Stamped
from rig.sampling.plan import Decision
from rig.sampling.switching import CauseMended, LotDecided, Past, Standing, standing_after


@dataclass(slots=True)
class PastLot:
    """One lot of a supplier and type; `closed` None while it is open."""

    opened: LotOpened
    opened_utc: str
    closed: LotClosed | None = None
    closed_utc: str = ""

    @property
    def original(self) -> bool:
        """Whether it came for the first time: only such a lot counts for how the next ones are inspected."""
        return not self.opened.resubmits


@dataclass(frozen=True, slots=True)
class History:
    """All lots of one supplier and type in the order in which they were opened."""

    lots: tuple[PastLot, ...]
    standing: Standing

    @property
    def closed(self) -> tuple[PastLot, ...]:
        """Those that are decided."""
        return tuple(one for one in self.lots if one.closed is not None)

    @property
    def tested(self) -> int:
        """Units that were tested, in all decided lots."""
        return sum(one.closed.tested for one in self.lots if one.closed is not None)

    @property
    def defective(self) -> int:
        """Of them, those with a defect."""
        return sum(one.closed.defective for one in self.lots if one.closed is not None)


def pooled_words(history: History) -> str:
    """What has to be said beside the share over all lots; empty where it is plain."""
    early = sum(one.closed is not None and one.closed.early for one in history.lots)
    return f"{early} of the lots ended early, which makes it look worse than it is" if early else ""


def history_of(events: Iterable[Stamped]) -> History:
    """The history from the entries of all lots of a supplier and type, in the order in which they were recorded."""
    lots: dict[str, PastLot] = {}
    pasts: dict[str, Past | None] = {}
    for stamped in events:
        match stamped.event:
            case LotOpened(lot=number, mended=mended) as opened:
                lots[number] = PastLot(opened, stamped.utc)
                if mended:
                    pasts[f"{number}, mended"] = CauseMended()
            case LotClosed(lot=number) as closed if number in lots:
                one = lots[number]
                one.closed, one.closed_utc = closed, stamped.utc
                # A lot that was looked at once more keeps its place.
                pasts[number] = (
                    LotDecided(Decision(closed.decision), one.original) if closed.switches else None
                )
            case LotReopened(lot=number) if number in lots:
                lots[number].closed, pasts[number] = None, None
    return History(tuple(lots.values()), standing_after(past for past in pasts.values() if past is not None))
