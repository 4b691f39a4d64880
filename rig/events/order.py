"""What happens to an order."""

from __future__ import annotations

from enum import StrEnum
from typing import Any, ClassVar

from rig.events.event import Event, kind_of_event


class Purpose(StrEnum):
    """What is done with the units of an order."""

    SET = "set"
    VERIFY = "verify"
    SURVEY = "survey"
    RECEIVE = "receive"
    STUDY = "study"

    @property
    def judges_no_setting(self) -> bool:
        """Whether units are looked at without a verdict on how they are set."""
        return self in (Purpose.SURVEY, Purpose.STUDY)

    @property
    def why_no_paper(self) -> str:
        """Why nothing can be said of the setting of a unit after it, with what to do."""
        done = "surveyed" if self is Purpose.SURVEY else "measured in a gauge study of the rig"
        return f"it was last {done}, which says nothing of its setting: set or verify it"


THE_RIG = "the rig itself"
"""The customer of what is measured for the sake of the rig alone, as its check unit is."""


@kind_of_event
class OrderStarted(Event):
    """Work on an order began."""

    kind: ClassVar[str] = "order-started"
    order: str
    customer: str
    purpose: Purpose
    sensor_type: str
    quantity: int
    rig: str
    simulated: bool
    software: str


@kind_of_event
class OrderInputs(Event):
    """The whole of what the plan was made from, as in the files: with it every verdict can be worked out again."""

    kind: ClassVar[str] = "order-inputs"
    order: dict[str, Any]
    sensor_type: dict[str, Any]
    rig: dict[str, Any]


@kind_of_event
class OrderEnded(Event):
    """Work on an order ended, finished or not."""

    kind: ClassVar[str] = "order-ended"
    order: str
    good: int
    bad: int
    undecided: int
    left: int
