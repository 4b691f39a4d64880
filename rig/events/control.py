"""What happens to a check unit: a sensor that was set once and is measured again and again, to watch the rig."""

from __future__ import annotations

from typing import Any, ClassVar

from rig.events.event import Event, kind_of_event


@kind_of_event
class CheckUnitKept(Event):
    """A unit was made the check unit of a rig, with the order and type that it was set by, and how it is watched."""

    kind: ClassVar[str] = "check-unit-kept"
    rig: str
    unit: str
    order: dict[str, Any]
    sensor_type: dict[str, Any]
    watching: dict[str, Any]
    person: str
    why: str


@kind_of_event
class CheckUnitMeasured(Event):
    """The check unit of a rig was measured: where in the record, and the deviation of each set point with U, in mm.

    `deviations` has for each edge its deviation and expanded uncertainty; none where the measurement came to nothing,
    for which `words` give the reason. `signals` is what the charts said to it then, empty for nothing.
    """

    kind: ClassVar[str] = "check-unit-measured"
    rig: str
    unit: str
    run: str
    deviations: dict[str, Any]
    words: str
    signals: str
    person: str


@kind_of_event
class CheckUnitLookedAt(Event):
    """Somebody has looked into a signal of the check unit: who, what was found, and where the cause was."""

    kind: ClassVar[str] = "check-unit-looked-at"
    rig: str
    unit: str
    signals: str
    found: str
    cause: str
    person: str


@kind_of_event
class CheckUnitGivenUp(Event):
    """A rig has no check unit any more."""

    kind: ClassVar[str] = "check-unit-given-up"
    rig: str
    unit: str
    person: str
    why: str
