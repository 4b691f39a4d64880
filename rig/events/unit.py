"""What is done with a unit and read from it, teaching and edges apart."""

from __future__ import annotations

from typing import ClassVar

from rig.events.event import Event, kind_of_event
from wiring.terms import Rail


@kind_of_event
class UnitStarted(Event):
    """A unit stands in the nest and work on it begins."""

    kind: ClassVar[str] = "unit-started"
    nest: str
    index: int


@kind_of_event
class SupplySwitched(Event):
    """The unit's supply was switched."""

    kind: ClassVar[str] = "supply-switched"
    on: bool


@kind_of_event
class SupplyMeasured(Event):
    """Supply current and voltage of the unit; None where the bench cannot measure."""

    kind: ClassVar[str] = "supply-measured"
    current_a: float | None
    voltage_v: float | None


@kind_of_event
class AirMeasured(Event):
    """The air at the bench by its probe; the pressure is the typed one, which no probe measures."""

    kind: ClassVar[str] = "air-measured"
    temperature_c: float
    humidity_percent: float
    pressure_kpa: float
    source: str


@kind_of_event
class TargetMoved(Event):
    """The target stands somewhere new; position None when the beam is clear."""

    kind: ClassVar[str] = "target-moved"
    where: str
    position_mm: float | None


@kind_of_event
class OutputRead(Event):
    """The output channel under one load direction."""

    kind: ClassVar[str] = "output-read"
    where: str
    position_mm: float | None
    load: Rail
    level: str
    steady: bool


@kind_of_event
class CheckDone(Event):
    """One check position: what the output had to be and what it was (None: it did not settle)."""

    kind: ClassVar[str] = "check-done"
    requirement: str
    where: str
    position_mm: float | None
    expected_on: bool
    read_on: bool | None


@kind_of_event
class ToleranceScanned(Event):
    """The target went out through the tolerance of a set point, and how often the output changed on the way.

    `outputs` has a sign for each reading: + at L+, - at L-, ? at neither; behind it ! if it did not keep still.
    """

    kind: ClassVar[str] = "tolerance-scanned"
    first_mm: float
    last_mm: float
    outputs: str
    changes: int


@kind_of_event
class PoweredUp(Event):
    """The unit got its supply where its output must be on, and when the output came on; None: not in time.

    Seconds from the moment at which the supply came; `doubt_s` is how far that moment may be wrong.
    """

    kind: ClassVar[str] = "powered-up"
    position_mm: float | None
    on_after_s: float | None
    doubt_s: float


DEVIATION = "deviation at the machine"
"""`FigureMeasured.name` before a comma and the edge: how far a set point lies from where it was ordered."""


@kind_of_event
class FigureMeasured(Event):
    """A figure of the whole unit, such as its time delay before availability; value None: the bench cannot tell."""

    kind: ClassVar[str] = "figure-measured"
    name: str
    value: float | None
    expanded: float | None
    unit: str


@kind_of_event
class UnitRecognised(Event):
    """What a unit that was already set is set to; mode "" where that cannot be told, and `doubts` say why."""

    kind: ClassVar[str] = "unit-recognised"
    mode: str
    output_function: str
    output_type: str
    doubts: str


@kind_of_event
class UnitRemoved(Event):
    """The unit left the nest."""

    kind: ClassVar[str] = "unit-removed"
