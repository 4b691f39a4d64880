"""A row of the account of one unit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Part(StrEnum):
    """Parts of the work on a unit, as the account is divided."""

    INSPECTION = "inspection"
    TEACHING = "teaching"
    SEARCH = "search for the zone"
    PROOF = "checks"
    FIGURES = "what was measured"
    ANSWERS = "answers on the way to the edges"
    DECISION = "requirements"
    RECOGNISED = "what it is set to"


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that was done or read.

    Attributes:
        entry: its number in the record.
        at_s: seconds since the unit was put into the nest.
        read: what was read; empty where something was only done.
        wanted: what had to be read; empty where anything may be.
        proves: what a right reading proves, or what follows from it.

    """

    part: Part
    entry: int
    at_s: float
    what: str
    read: str = ""
    wanted: str = ""
    proves: str = ""
