"""What to do with a unit that is not good. Common practice, no source."""

from __future__ import annotations

from rig.events import Verdict
from rig.sequencer.findings import Reason

_PUT_ASIDE = "Label it 'do not use' and keep it apart; send it back with its record."
_SET_AGAIN = (
    "Look at what was found, then set it again. Undecided once more: keep it apart for a second person."
)
_BENCH_FIRST = "The bench or its harness may be at fault: put that right first, then set the unit again."
_NOT_FINISHED = "The work was cut short: set it again."
_SORT_OUT = (
    "Sort it out: it may be sound, but is not the unit that was ordered. Look at the box that it came from."
)

_BENCH = frozenset(
    {
        Reason.HARNESS_SWAPPED,
        Reason.SUPPLY_LOW,
        Reason.LED_ROOM_LIGHT,
        Reason.CONTACT_LENGTH,
        Reason.TOO_SLOW,
        Reason.TARGET_LEFT,
        Reason.SLIDES_FAILED,
        Reason.GAUGE_FAILED,
        Reason.DRIVE_STALLED,
        Reason.DRIVE_LOST_STEPS,
        Reason.DRIVE_LATE,
    }
)
_CUT_SHORT = frozenset({Reason.NO_ANSWER, Reason.BENCH_TRIPPED, Reason.INTERRUPTED})


def what_to_do(verdict: Verdict | None, reason: str) -> str:
    """What to do with a unit of this verdict; nothing for a good one."""
    if verdict is Verdict.GOOD:
        return ""
    if verdict is Verdict.BAD:
        return _SORT_OUT if reason == Reason.OUTPUT_TYPE else _PUT_ASIDE
    if verdict is None or reason in _CUT_SHORT:
        return _NOT_FINISHED
    return _BENCH_FIRST if reason in _BENCH else _SET_AGAIN
