"""What happens to a lot that was delivered; each is recorded under the lot's number, as an order's events are."""

from __future__ import annotations

from typing import Any, ClassVar

from rig.events.event import Event, kind_of_event
from rig.events.verdicts import Verdict


@kind_of_event
class LotOpened(Event):
    """A lot was entered: what it is, the receiving plan it is tested by, and the seed of its random draw.

    `inspection` is how strictly it is inspected. `resubmits` is the number of a lot that was not accepted and comes
    again, sorted; empty for one that comes the first time. `mended` says, where inspection had been stopped for this
    supplier and type, what makes it go on.
    """

    kind: ClassVar[str] = "lot-opened"
    lot: str
    supplier: str
    delivery_note: str
    sensor_type: str
    quantity: int
    seed: int
    inspection: str
    plan: dict[str, Any]
    resubmits: str
    mended: str
    person: str


@kind_of_event
class LotChanged(Event):
    """Number of units, or receiving plan, of a lot are others than was entered: from here on these hold, and why."""

    kind: ClassVar[str] = "lot-changed"
    lot: str
    quantity: int
    plan: dict[str, Any]
    person: str
    why: str


@kind_of_event
class UnitNamed(Event):
    """A unit of a lot bears a serial of its own, which was read."""

    kind: ClassVar[str] = "unit-named"
    mark: str


@kind_of_event
class UnitPutAside(Event):
    """Somebody has put a unit that is not sound where it belongs, and said so."""

    kind: ClassVar[str] = "unit-put-aside"
    verdict: Verdict
    person: str


@kind_of_event
class CharacteristicJudged(Event):
    """One characteristic of a unit of a lot: how much a defect in it weighs, and whether there is one.

    `value` with its `unit` is what was measured, `low` and `high` are its limits; None: nothing was, or there is none.
    """

    kind: ClassVar[str] = "characteristic-judged"
    characteristic: str
    defect: str
    verdict: Verdict
    reason: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    words: str


@kind_of_event
class SettingLeft(Event):
    """With which setting a unit of a lot leaves the nest, and whether that is the one with which it came."""

    kind: ClassVar[str] = "setting-left"
    setting: str
    as_delivered: bool


@kind_of_event
class LotClosed(Event):
    """A lot was decided, and on what.

    Attributes:
        decision: accepted or rejected.
        inspection: how strictly it was inspected.
        tested: units that count.
        defective: how many of them have a defect of any class.
        by_class: for each class: sample, acceptance number, units found.
        found: units with a defect, by characteristic.
        measured: for each measured figure, named with its unit: count, mean, standard deviation.
        early: whether testing ended before the sample was whole, because the lot was decided.
        switches: whether it counts for how the next lots are inspected.

    """

    kind: ClassVar[str] = "lot-closed"
    lot: str
    decision: str
    inspection: str
    quantity: int
    tested: int
    defective: int
    by_class: dict[str, list[int]]
    found: dict[str, int]
    measured: dict[str, list[float]]
    early: bool
    switches: bool
    words: str
    person: str


@kind_of_event
class LotReopened(Event):
    """A lot that was decided is looked at once more: the decision no longer stands."""

    kind: ClassVar[str] = "lot-reopened"
    lot: str
    person: str
    why: str
