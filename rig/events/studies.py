"""What happens to a gauge study: it is opened, its trials are begun, and what it comes to is said."""

from __future__ import annotations

from typing import Any, ClassVar

from rig.events.event import Event, kind_of_event


@kind_of_event
class StudyOpened(Event):
    """A gauge study was laid out: all of it, and the files that its units are measured by, as in `OrderInputs`."""

    kind: ClassVar[str] = "study-opened"
    study: str
    design: dict[str, Any]
    inputs: dict[str, Any]


@kind_of_event
class TrialBegun(Event):
    """The unit in the nest is there for a trial of a study: which one, by whom or in which setting, in which round.

    `edge` is what is measured of it.
    """

    kind: ClassVar[str] = "trial-begun"
    study: str
    trial: int
    level: str
    repeat: int
    edge: str


@kind_of_event
class StudyConcluded(Event):
    """All trials are done, and this follows from them: in a word, in words, and the figures it rests on."""

    kind: ClassVar[str] = "study-concluded"
    study: str
    fitness: str
    words: str
    figures: dict[str, Any]


@kind_of_event
class TrialSetAside(Event):
    """A value of a study does not count, and its trial is done again: which value, who says so and why.

    The value stays in the record, told by when it was measured.
    """

    kind: ClassVar[str] = "trial-set-aside"
    study: str
    trial: int
    value_mm: float
    measured_utc: str
    person: str
    why: str
