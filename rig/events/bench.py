"""What happens to the bench: trips, self-checks, building it, calibrations."""

from __future__ import annotations

from enum import StrEnum
from typing import Any, ClassVar

from rig.events.event import Event, kind_of_event


@kind_of_event
class BenchTripped(Event):
    """The interlock opened everything."""

    kind: ClassVar[str] = "bench-tripped"
    cause: str
    words: str
    check: str


@kind_of_event
class BenchReset(Event):
    """A person has reset the bench after a trip."""

    kind: ClassVar[str] = "bench-reset"


@kind_of_event
class WorkCutOff(Event):
    """The program had ended in the middle of this unit, or order, without being asked to; noted at its next start."""

    kind: ClassVar[str] = "work-cut-off"
    words: str


class Strain(StrEnum):
    """What a computer can come to suffer from while it works."""

    HOT = "hot"
    MEMORY = "memory"
    CLOCK = "clock"


@kind_of_event
class ComputerStrained(Event):
    """The computer became too hot (`value` in degrees C), short of memory (MB free), or its clock was set (by s)."""

    kind: ClassVar[str] = "computer-strained"
    strain: str
    value: float


@kind_of_event
class SelfCheckStarted(Event):
    """A self-check of a rig began; the SHA-256 is that of its profile, as in `OrderInputs`."""

    kind: ClassVar[str] = "self-check-started"
    rig: str
    rig_sha256: str
    simulated: bool
    software: str


@kind_of_event
class PartMeasured(Event):
    """One figure of a part of the rig; `low` and `high` are its limits (None: there is none)."""

    kind: ClassVar[str] = "part-measured"
    part: str
    figure: str
    value: float
    low: float | None
    high: float | None
    unit: str


@kind_of_event
class PartChecked(Event):
    """One check of the rig is done: what was done, how it came out, in words, and what to look at."""

    kind: ClassVar[str] = "part-checked"
    part: str
    done: str
    outcome: str
    words: str
    check: str


@kind_of_event
class SelfCheckEnded(Event):
    """A self-check ended, with how it came out as a whole."""

    kind: ClassVar[str] = "self-check-ended"
    rig: str
    outcome: str


@kind_of_event
class ReferenceRead(Event):
    """A reference distance: where the target was by its own scale, and what the reference said."""

    kind: ClassVar[str] = "reference-read"
    shown_mm: float
    true_mm: float


@kind_of_event
class CalibrationMade(Event):
    """A nest of a rig was calibrated; the whole of it, which the store keeps by its hash too."""

    kind: ClassVar[str] = "calibration-made"
    rig: str
    nest: str
    calibration: dict[str, Any]


@kind_of_event
class RigStepDone(Event):
    """One step of building a rig is done: what was to be done, and what was measured (empty: nothing was)."""

    kind: ClassVar[str] = "rig-step-done"
    rig: str
    step: str
    words: str
    measured: str
    low: float | None
    high: float | None
    unit: str


@kind_of_event
class RigSignedOff(Event):
    """A rig is built, measured and self-checked: signed by who built it and by who checked the wiring."""

    kind: ClassVar[str] = "rig-signed-off"
    rig: str
    rig_sha256: str
    steps: int
    built_by: str
    checked_by: str
    self_check: str
