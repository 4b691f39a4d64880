"""Words that files, hardware and plans share, one name for one thing."""

from __future__ import annotations

from enum import StrEnum


class Rail(StrEnum):
    """A supply rail, named as IEC 60947-5-2 names it."""

    PLUS = "L+"
    MINUS = "L-"

    @property
    def other(self) -> Rail:
        """The opposite rail."""
        return Rail.MINUS if self is Rail.PLUS else Rail.PLUS


class OutputType(StrEnum):
    """How a unit's output drives its load (IEC 60947-5-2)."""

    PNP = "PNP"
    NPN = "NPN"
    PUSH_PULL = "push-pull"


class OutputFunction(StrEnum):
    """Whether the output is on with (NO) or without (NC) a detected object."""

    NO = "NO"
    NC = "NC"


class DetectionMode(StrEnum):
    """Which objects a unit reports."""

    FULL_RANGE = "full-range"
    SINGLE_POINT = "single-point"
    WINDOW = "window"


class Verification(StrEnum):
    """How a set unit is proved.

    By reading its output at the planned positions; by measuring its edges with a target drive; or by a person who
    slides the target slowly while the rig catches the edge.
    """

    POSITIONS = "positions"
    MEASURED = "measured"
    GUIDED = "guided"


class LedKind(StrEnum):
    """What a LED does, as a pick-up or an eye can tell."""

    DARK = "dark"
    STEADY = "steady"
    FLASHING = "flashing"
    BLINKS = "blinks"
    UNCLEAR = "unclear"
