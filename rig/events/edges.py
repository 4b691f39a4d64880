"""How an edge is found, and what was found."""

from __future__ import annotations

from typing import ClassVar

from rig.events.event import Event, kind_of_event


@kind_of_event
class EdgeBegun(Event):
    """Measuring of one edge began: `edge` is inner or outer, `method` how it is found."""

    kind: ClassVar[str] = "edge-begun"
    edge: str
    method: str
    wanted_mm: float


@kind_of_event
class EdgeRead(Event):
    """One answer of the unit on the way to an edge.

    `position_mm` None: a clear beam. `detected` None: the output was neither on nor off. `steady`: it did not change
    while it was watched. `changes` counts the edges on the inputs of the output from the target's arrival on.
    """

    kind: ClassVar[str] = "edge-read"
    where: str
    position_mm: float | None
    detected: bool | None
    steady: bool
    changes: int


@kind_of_event
class EdgePassed(Event):
    """The target passed an edge at constant speed; times in seconds from the start of the pass.

    `switched_s` is None if the output did not change once, and only once.
    """

    kind: ClassVar[str] = "edge-passed"
    start_mm: float
    end_mm: float
    speed_mm_s: float
    detected: bool
    switched_s: float | None


@kind_of_event
class EdgeSlid(Event):
    """A person slid the target across an edge; times in seconds from the request on.

    It could end at the edge with `stop_at_edge`; `hint` stood before the words of the request. `switched_s` is None if
    the output did not change once, and only once; `changes` counts its changes. `told_mm` is the number that the
    person read from the scale. `track` is what a gauge told, seconds and mm: its first and last
    reading, and those about the switching; `fault` what silenced it.
    """

    kind: ClassVar[str] = "edge-slid"
    start_mm: float
    end_mm: float
    detected: bool
    stop_at_edge: bool
    hint: str
    switched_s: float | None
    changes: int
    told_mm: float | None
    track: list[list[float]]
    fault: str


@kind_of_event
class EdgeMeasured(Event):
    """What was found of one edge; every uncertainty is expanded, for 95 % coverage; None: not measured."""

    kind: ClassVar[str] = "edge-measured"
    edge: str
    method: str
    operate_mm: float
    operate_u_mm: float
    release_mm: float
    release_u_mm: float
    travel_mm: float
    travel_u_mm: float
    repeat_mm: float | None
    response_on_s: float | None
    response_on_u_s: float | None
    response_off_s: float | None
    response_off_u_s: float | None
    readings: int
    moves: int


@kind_of_event
class EdgeNotMeasured(Event):
    """One edge could not be measured, why, and what to look at."""

    kind: ClassVar[str] = "edge-not-measured"
    edge: str
    trouble: str
    words: str
    check: str
