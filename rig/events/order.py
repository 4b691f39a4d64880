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
