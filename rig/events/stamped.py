"""Events with their place in time, and the way into a record and back."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from rig.events.event import EVENT_TYPES, Event
from rig.events.order import Purpose
from rig.events.verdicts import Verdict
from wiring.terms import Rail

_ENUMS: dict[str, type[StrEnum]] = {
    "rail": Rail,
    "load": Rail,
    "verdict": Verdict,
    "purpose": Purpose,
}


@dataclass(frozen=True, slots=True)
class Stamped:
    """An event with its place in time: nanoseconds of the engine's clock, and UTC for the record."""

    number: int
    at_ns: int
    utc: str
    order: str
    serial: str
    event: Event

    @property
    def at_s(self) -> float:
        """Engine time in seconds."""
        return self.at_ns / 1e9

    def body(self) -> dict[str, Any]:
        """The event's own fields, ready for JSON."""
        return self.event.body()


def event_from(kind: str, body: dict[str, Any]) -> Event:
    """Rebuild an event read from a record.

    Raises:
        ValueError: for a kind this version does not know, or a body with other fields.

    """
    cls = EVENT_TYPES.get(kind)
    if cls is None:
        raise ValueError(f"unknown event kind {kind!r}")
    names = set(cls.field_names)
    if names != body.keys():
        raise ValueError(f"event {kind!r} has fields {sorted(body)}, expected {sorted(names)}")
    return cls(**{key: _ENUMS[key](value) if key in _ENUMS else value for key, value in body.items()})
