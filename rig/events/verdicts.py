"""What is said of a unit."""

from __future__ import annotations

from enum import StrEnum
from typing import ClassVar

from rig.events.event import Event, kind_of_event


class Verdict(StrEnum):
    """What is said of a unit; missing evidence is `undecided`, never `good`."""

    GOOD = "good"
    BAD = "bad"
    UNDECIDED = "undecided"


@kind_of_event
class RequirementJudged(Event):
    """One requirement held against its evidence.

    `low` and `high` are its limits (None: there is none), `risk` the chance that the verdict is wrong if it
    is good or bad (None: not known).
    """

    kind: ClassVar[str] = "requirement-judged"
    requirement: str
    verdict: Verdict
    rule: str
    value: float | None
    expanded: float | None
    unit: str
    low: float | None
    high: float | None
    risk: float | None
    words: str


@kind_of_event
class UnitJudged(Event):
    """The verdict on a unit, with its reason."""

    kind: ClassVar[str] = "unit-judged"
    verdict: Verdict
    reason: str
    words: str


@kind_of_event
class DecidedByHand(Event):
    """A person has decided about a unit that the bench was undecided about, and a second one has released it.

    The bench's verdict stays as it is. The attempt is named by the uuid of its bench and the number of its first
    entry in the account of that bench.
    """

    kind: ClassVar[str] = "decided-by-hand"
    bench: str
    attempt: int
    verdict: Verdict
    person: str
    released_by: str
    why: str
