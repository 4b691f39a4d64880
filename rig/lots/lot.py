"""A lot as its entries in the record tell it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from pydantic import ValidationError

from rig.events import LotChanged, LotClosed, LotOpened, LotReopened, Stamped, UnitNamed, UnitPutAside
from rig.lots.draw import drawn, unit_serial
from rig.lots.sampling import LotSampling, sampling_of
from rig.sampling.standard import Severity
from sequences.receiving import ReceivingPlan


class NoLot(ValueError):
    """There is no such lot, or its record cannot be used; says why."""


@dataclass(frozen=True, slots=True)
class Change:
    """Something that was said of a lot after it was opened: when, by whom, what and why."""

    utc: str
    person: str
    words: str


@dataclass(frozen=True, slots=True)
class Lot:
    """A lot; whatever was changed on the way is told in `changes`, and holds here.

    Attributes:
        opened: as it was entered.
        quantity: units that it has.
        receiving: what its units are tested by.
        marks: serials of their own that units bear, by their serials in the record.
        aside: units that somebody has put aside, and said so.
        closed: the decision that stands; None if there is none.

    """

    opened: LotOpened
    opened_utc: str
    quantity: int
    receiving: ReceivingPlan
    marks: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    aside: frozenset[str] = frozenset()
    closed: LotClosed | None = None
    closed_utc: str = ""
    changes: tuple[Change, ...] = ()

    @property
    def number(self) -> str:
        """Its number."""
        return self.opened.lot

    @property
    def severity(self) -> Severity:
        """How strictly it is inspected."""
        return Severity(self.opened.inspection)

    @property
    def sampling(self) -> LotSampling:
        """Its sample; raises NoSuchPlan."""
        return sampling_of(self.receiving, self.quantity, self.severity)

    def serials(self) -> tuple[str, ...]:
        """The units of its sample in the order of the draw."""
        places = drawn(self.quantity, self.opened.seed)[: self.sampling.units]
        return tuple(unit_serial(self.number, place) for place in places)


def lot_of(events: Iterable[Stamped]) -> Lot:
    """A lot from its entries, in order; raises NoLot."""
    lot: Lot | None = None
    for stamped in events:
        if isinstance(stamped.event, LotOpened):
            lot = lot or _opened(stamped.event, stamped.utc)
        elif lot is not None:
            lot = _then(lot, stamped)
    if lot is None:
        raise NoLot("no such lot was opened")
    return lot


def plan_from(lot: str, data: Mapping[str, object]) -> ReceivingPlan:
    """A receiving plan as it was recorded; raises NoLot."""
    try:
        return ReceivingPlan.model_validate_json(json.dumps(data))
    except ValidationError as problems:
        why = "; ".join(one["msg"] for one in problems.errors())
        raise NoLot(f"the recorded receiving plan of lot {lot} cannot be used: {why}") from None


def _opened(opened: LotOpened, utc: str) -> Lot:
    return Lot(opened, utc, opened.quantity, plan_from(opened.lot, opened.plan))


def _then(lot: Lot, stamped: Stamped) -> Lot:
    event = stamped.event
    match event:
        case LotChanged(quantity=quantity, plan=plan, person=person):
            words = _changed_words(lot, event)
            return replace(
                lot,
                quantity=quantity,
                receiving=plan_from(lot.number, plan),
                changes=(*lot.changes, Change(stamped.utc, person, words)),
            )
        case UnitNamed(mark=mark):
            return replace(lot, marks=MappingProxyType({**lot.marks, stamped.serial: mark}))
        case UnitPutAside():
            return replace(lot, aside=lot.aside | {stamped.serial})
        case LotClosed():
            return replace(lot, closed=event, closed_utc=stamped.utc)
        case LotReopened(person=person, why=why):
            change = Change(stamped.utc, person, f"opened once more: {why}")
            return replace(lot, closed=None, closed_utc="", changes=(*lot.changes, change))
    return lot


def _changed_words(lot: Lot, event: LotChanged) -> str:
    what = []
    if event.quantity != lot.quantity:
        what.append(f"{event.quantity} units instead of {lot.quantity}")
    if event.plan != lot.receiving.model_dump(mode="json"):
        what.append(f"receiving plan {event.plan.get('name')} as it is now")
    return f"{' and '.join(what) or 'nothing'}: {event.why}"
