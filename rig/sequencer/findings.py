"""Findings: what the evidence says of a unit, in a code for programs and in words for people.

A fault that may as well sit in the bench (harness, pick-up, supply path) makes a unit undecided, not
bad: only what a sound unit could never show condemns it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from rig.events import Verdict


class Reason(StrEnum):
    """Why a unit got its verdict."""

    PROVEN = "proven"
    RECOGNISED = "recognised"
    MEASURED = "measured"
    AMBIGUOUS = "ambiguous"
    NO_CURRENT = "no-current"
    HARNESS_SWAPPED = "harness-swapped"
    OVER_CURRENT = "over-current"
    SUPPLY_LOW = "supply-low"
    AIR_CHANGED = "air-changed"
    OUTPUT_TYPE = "output-type"
    OUTPUT_OPEN = "output-open"
    OUTPUT_STUCK = "output-stuck"
    OUTPUT_UNCLEAR = "output-unclear"
    OUTPUT_UNSTEADY = "output-unsteady"
    OUTPUT_INVERSE = "output-inverse"
    LED_SILENT = "led-silent"
    LED_ROOM_LIGHT = "led-room-light"
    ANSWER_FOREIGN = "answer-foreign"
    TEACH_REFUSED = "teach-refused"
    CONTACT_LENGTH = "contact-length"
    TOO_SLOW = "too-slow"
    NOT_DETECTED = "not-detected"
    SET_POINT_OFF = "set-point-off"
    SET_POINT_MOVED = "set-point-moved"
    NEAR_TOLERANCE = "near-tolerance"
    WIDE_DIFFERENTIAL = "wide-differential"
    WRONG_ZONE = "wrong-zone"
    REPEAT_ACCURACY = "repeat-accuracy"
    RESPONSE_TIME = "response-time"
    AVAILABILITY = "availability"
    TARGET_LEFT = "target-left-in-beam"
    OUTPUT_CHATTERS = "output-chatters"
    CHANGES_ITS_MIND = "changes-its-mind"
    BEYOND_REACH = "edge-beyond-reach"
    SLIDES_FAILED = "slides-failed"
    GAUGE_FAILED = "gauge-failed"
    DRIVE_STALLED = "drive-stalled"
    DRIVE_LOST_STEPS = "drive-lost-steps"
    DRIVE_LATE = "drive-late"
    NO_ANSWER = "no-answer"
    BENCH_TRIPPED = "bench-tripped"
    INTERRUPTED = "interrupted"
    NOT_TESTED = "not-tested"


@dataclass(frozen=True, slots=True)
class Finding:
    """A verdict with its reason."""

    verdict: Verdict
    reason: Reason
    words: str


def bad(reason: Reason, words: str) -> Finding:
    """A finding that only a faulty or wrongly set unit can give."""
    return Finding(Verdict.BAD, reason, words)


def undecided(reason: Reason, words: str) -> Finding:
    """A finding that a person has to look into."""
    return Finding(Verdict.UNDECIDED, reason, words)


def good(words: str) -> Finding:
    """All that the plan demands was read and was right."""
    return Finding(Verdict.GOOD, Reason.PROVEN, words)
