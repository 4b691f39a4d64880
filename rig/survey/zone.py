"""The zone of a unit, roughly: between which positions each of its ends lies, and how its output switches."""

from __future__ import annotations

from dataclasses import dataclass

from rig.survey.recognise import Switching


@dataclass(frozen=True, slots=True)
class Span:
    """The unit detects at `inside_mm` and not at `outside_mm`: an end of its zone lies between."""

    inside_mm: float
    outside_mm: float


@dataclass(frozen=True, slots=True)
class Zone:
    """What was found roughly; `near` None: detected from the first position on, `far` None: up to the last."""

    switching: Switching
    near: Span | None
    far: Span | None
