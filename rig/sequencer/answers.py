"""What a LED pattern that was picked up means: the answer of a sensor type, lit or dark, and its words."""

from __future__ import annotations

from hal.led import LedPattern
from rig.events import ContactEnded
from rig.planning.plan import Answer, MakeContact
from rig.sequencer.any_work import ContactMade
from wiring.terms import LedKind

# Flashing rates closer than this ratio are one pattern: units and pick-ups are not clocks. Its square is what
# sensor types must keep their signs apart by, so a rate between two signs is never taken for both.
_SAME_RATE = 1.18

LIT = {LedKind.STEADY: True, LedKind.DARK: False}
"""What a LED may do at rest, and whether it is lit then."""


def lit(pattern: LedPattern | None) -> bool | None:
    """Whether a LED at rest is lit or dark."""
    return None if pattern is None else LIT[pattern.kind]


def shows(pattern: LedPattern, answer: Answer | None) -> bool:
    """Whether a pattern, as picked up, is the answer of the sensor type."""
    if answer is None or pattern.kind is not answer.kind:
        return False
    if answer.rate_hz is not None and pattern.rate_hz is not None:
        return 1 / _SAME_RATE <= pattern.rate_hz / answer.rate_hz <= _SAME_RATE
    return pattern.count == answer.count


def confirmed(step: MakeContact, seen: LedPattern | None) -> bool:
    """Whether a contact was ended by the answer that it waited for."""
    return seen is not None and shows(seen, step.until)


def contact_ended(step: MakeContact, made: ContactMade) -> ContactEnded:
    """A contact for the record, with what ended it."""
    answer = pattern_words(made.seen) if made.seen is not None else "timed" if step.for_s else "none"
    return ContactEnded(step.rail, made.length_s, answer, confirmed(step, made.seen))


def pattern_words(pattern: LedPattern) -> str:
    """A pattern in the words of an answer; its rate as finely as an eye tells it."""
    rate_hz = None if pattern.rate_hz is None else round(pattern.rate_hz, 1)
    return Answer("", pattern.kind, rate_hz, pattern.count).words
