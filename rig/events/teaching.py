"""What is done on the teach wire, and what the unit answers."""

from __future__ import annotations

from typing import ClassVar

from rig.events.event import Event, kind_of_event
from wiring.terms import Rail


@kind_of_event
class StepStarted(Event):
    """A step of the teach sequence began."""

    kind: ClassVar[str] = "step-started"
    number: int
    text: str


@kind_of_event
class ContactDue(Event):
    """A contact is about to be made: seconds since the unit got its supply, and since its last contact closed."""

    kind: ClassVar[str] = "contact-due"
    since_power_s: float
    since_contact_s: float | None


@kind_of_event
class PauseEnded(Event):
    """The pause between two contacts of one step, from opening to closing, as read back from the wire."""

    kind: ClassVar[str] = "pause-ended"
    length_s: float


@kind_of_event
class ContactEnded(Event):
    """One connection of the teach wire to a rail, as read back from the wire."""

    kind: ClassVar[str] = "contact-ended"
    rail: Rail
    length_s: float
    answer: str
    confirmed: bool


@kind_of_event
class LedSeen(Event):
    """What the LED did when it was looked at; `led` is `nothing` where what was waited for did not come."""

    kind: ClassVar[str] = "led-seen"
    moment: str
    led: str
    rate_hz: float | None
    count: int | None
    noisy: bool


@kind_of_event
class AnswerSeen(Event):
    """What the LED showed when an answer was expected."""

    kind: ClassVar[str] = "answer-seen"
    expected: str
    seen: str
    accepted: bool
