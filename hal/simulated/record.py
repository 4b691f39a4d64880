"""What really happened on the simulated bench, for tests: the program under test never sees it.

Everything is kept in rings of fixed length, so that a run of any length needs no more memory.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from hal.simulated.clock import NS
from wiring.terms import Rail

_KEPT = 2000


class Place(StrEnum):
    """Where a relay's moving contact is."""

    REST = "rest"
    BETWEEN = "between"
    WORK = "work"


@dataclass(slots=True)
class RailsJoined:
    """L+ and L- touched through contacts: what may never happen. `end_ns` is None while it lasts."""

    nest: str
    start_ns: int
    end_ns: int | None = None
    energy_j: float = 0.0


@dataclass(frozen=True, slots=True)
class SelectorMovedUnderLoad:
    """The rail selector left its place while the teach contact was closed."""

    nest: str
    at_ns: int


@dataclass(frozen=True, slots=True)
class HandsInLiveNest:
    """A unit was put in or taken out while its L+ was on."""

    nest: str
    at_ns: int


class ContactSeen(NamedTuple):
    """One contact of the teach wire, as the unit saw it (its own input filter has taken the bounce out)."""

    nest: str
    rail: Rail
    start_ns: int
    end_ns: int

    @property
    def length_s(self) -> float:
        """How long it lasted."""
        return (self.end_ns - self.start_ns) / NS


class RelayMoved(NamedTuple):
    """A relay's moving contact arrived somewhere; bounce included."""

    relay: str
    at_ns: int
    place: Place


Incident = RailsJoined | SelectorMovedUnderLoad | HandsInLiveNest


class Record:
    """Rings of incidents, contacts and relay moves, each the newest 2000."""

    def __init__(self) -> None:
        self.incidents: deque[Incident] = deque(maxlen=_KEPT)
        self.contacts: deque[ContactSeen] = deque(maxlen=_KEPT)
        self.relays: deque[RelayMoved] = deque(maxlen=_KEPT)
