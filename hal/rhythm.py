"""What a LED does, told from time-stamped edges of its pick-up; nothing here knows GPIO or a clock.

The edges first pass `LightFilter`: lamps on the mains reach a pick-up as pulses of a few milliseconds, 100 or
120 a second, so light counts only when it lasts `SHORTEST_S`; and an edge may be lost, which shows as two
rises, or two falls, in a row. What is left are changes between light and dark, and `classify` tells from them
and the time passed since the last one what pattern they make. It says `unclear` until it is sure.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import NamedTuple

from wiring.terms import LedKind

SHORTEST_S = 0.022
"""Light or dark shorter than this is noise: more than two periods of 100 Hz, less than a flash of a 10 Hz LED."""

NOISE_WINDOW_S = 1.0
BLINK_SHORTEST_S = 0.05
BLINK_LONGEST_S = 0.35
BLINK_PAUSE_S = 0.6
BLINKS_TOLD_S = 2.0
MOST_BLINKS = 10
SETTLED_S = 0.6
SETTLED_AFTER_OTHERS_S = 1.5
OTHERS_WITHIN_S = 3.0
"""A lone change is a new level after 0.6 s; one of several may be slow flashing, down to 0.5 Hz, for 1.5 s."""

_NOISY_FROM = 3
_KEPT = 48
_SAME = 0.15
_EVEN_DUTY = (0.37, 0.63)


class Change(NamedTuple):
    """The LED went light or dark; not exact where the edge itself was not seen."""

    at_s: float
    lit: bool
    exact: bool = True


@dataclass(frozen=True, slots=True)
class LedPattern:
    """What the LED does: `rate_hz` of flashing, `count` of blinks; `noisy` when lamp flicker reaches the pick-up."""

    kind: LedKind
    rate_hz: float | None = None
    count: int | None = None
    noisy: bool = False


class Reading(NamedTuple):
    """A pattern, and the time at which it may be another without any further edge."""

    pattern: LedPattern
    look_again_s: float


class LightFilter:
    """Takes the edges of a pick-up one by one and keeps the changes between light and dark."""

    def __init__(self, level: bool, at_s: float) -> None:
        self.level = level
        self._run_s = at_s
        self._changes: deque[Change] = deque([Change(at_s, level, exact=False)], maxlen=_KEPT)
        self._pulses: deque[float] = deque(maxlen=_NOISY_FROM)
        self._run_exact = False
        self._run_counted = level

    @property
    def undecided_until_s(self) -> float:
        """When light that has just begun will count; -inf if there is none."""
        return self._run_s + SHORTEST_S if self.level and not self._run_counted else -inf

    def edge(self, level: bool, at_s: float, *, exact: bool = True) -> bool:
        """Take in one edge; tell whether it, or the run it ended, made a change."""
        newest = self._changes[-1]
        long = at_s - self._run_s >= SHORTEST_S
        if self.level and long:
            self._count_light()
        elif self.level:
            self._pulses.append(at_s)
            if newest.lit:
                self._changes.append(Change(self._run_s, lit=False, exact=False))
        if not level and long:
            self._changes.append(Change(at_s, lit=False, exact=exact))
        self.level, self._run_s, self._run_exact, self._run_counted = level, at_s, exact, False
        return self._changes[-1] is not newest

    def changes(self, since_s: float, now_s: float) -> tuple[Change, ...]:
        """The changes after `since_s`, led by the state at that time; light that lasts by now is counted."""
        if self.level and now_s - self._run_s >= SHORTEST_S:
            self._count_light()
        changes = tuple(self._changes)
        first = bisect_right(changes, since_s, key=_at)
        if first == 0:
            return changes
        return (Change(max(since_s, changes[0].at_s), changes[first - 1].lit, exact=False), *changes[first:])

    def noisy(self, now_s: float) -> bool:
        """Tell whether short pulses keep coming."""
        return len(self._pulses) == _NOISY_FROM and now_s - self._pulses[0] <= NOISE_WINDOW_S

    def _count_light(self) -> None:
        if self._run_counted:
            return
        self._run_counted = True
        newest = self._changes[-1]
        if not newest.lit and self._run_s - newest.at_s < SHORTEST_S and len(self._changes) > 1:
            self._changes.pop()  # too short a gap to be dark
        else:
            self._changes.append(Change(self._run_s, lit=True, exact=self._run_exact))


def _at(change: Change) -> float:
    return change.at_s


class Rhythm(NamedTuple):
    """Regular flashing: the mean period and the longer one of its two halves, in seconds."""

    period_s: float
    longer_half_s: float


def classify(changes: Sequence[Change], now_s: float, *, noisy: bool = False) -> Reading:
    """Tell the pattern that `changes` make by `now_s`; the first of them is only the state at the start."""
    last = changes[-1]
    quiet_s = now_s - last.at_s
    settled_s = SETTLED_AFTER_OTHERS_S if _has_company(changes) else SETTLED_S
    moments = [BLINK_PAUSE_S, BLINKS_TOLD_S, settled_s]
    rhythm = find_rhythm(changes)
    if rhythm is not None:
        moments.append(1.6 * rhythm.longer_half_s + SHORTEST_S)
    look_again_s = min((last.at_s + moment for moment in moments if moment > quiet_s), default=inf)

    if rhythm is not None and quiet_s < moments[-1]:
        return Reading(LedPattern(LedKind.FLASHING, rate_hz=1 / rhythm.period_s, noisy=noisy), look_again_s)
    count = count_blinks(changes) if BLINK_PAUSE_S <= quiet_s < BLINKS_TOLD_S else 0
    if count:
        return Reading(LedPattern(LedKind.BLINKS, count=count, noisy=noisy), look_again_s)
    kind = LedKind.UNCLEAR
    if quiet_s >= settled_s:
        kind = LedKind.STEADY if last.lit else LedKind.DARK
    return Reading(LedPattern(kind, noisy=noisy), look_again_s)


def _has_company(changes: Sequence[Change]) -> bool:
    return len(changes) > 2 and changes[-1].at_s - changes[-2].at_s < OTHERS_WITHIN_S


def count_blinks(changes: Sequence[Change]) -> int:
    """Count the short flashes, close together, after which nothing more came; 0 if they are no blinks."""
    seen = [change for change in changes if change.exact]
    if seen and seen[-1].lit:
        seen.pop()  # the LED stays lit after the last flash
    count, later_s = 0, None
    while len(seen) >= 2:
        off, on = seen.pop(), seen.pop()
        alternate = on.lit and not off.lit
        close = later_s is None or later_s - off.at_s <= BLINK_LONGEST_S
        if not (alternate and close and BLINK_SHORTEST_S <= off.at_s - on.at_s <= BLINK_LONGEST_S):
            break
        count, later_s = count + 1, on.at_s
    return count if count <= MOST_BLINKS else 0


def find_rhythm(changes: Sequence[Change]) -> Rhythm | None:
    """Find the regular flashing that the newest changes show, if they are enough to be sure."""
    periods: list[float] = []
    for period_s in _periods(changes):
        mean_s = sum(periods) / len(periods) if periods else period_s
        if abs(period_s - mean_s) > _SAME * mean_s or len(periods) == 8:
            break
        periods.append(period_s)
    if not periods:
        return None
    period_s = sum(periods) / len(periods)
    recent = changes[-len(periods) - 2 :]
    halves = {lit: _mean_s(recent, lit) for lit in (False, True)}
    if None in halves.values():
        return None
    lit_s, dark_s = halves[True] or 0.0, halves[False] or 0.0
    if len(periods) < _enough(period_s, lit_s / (lit_s + dark_s)):
        return None
    return Rhythm(period_s, max(lit_s, dark_s))


def _enough(period_s: float, duty: float) -> int:
    """How many like periods, each ending half a flash after the other, make flashing."""
    enough = 2 if period_s > 0.33 else 3 if period_s > 0.16 else 4
    # A whole flash that was lost doubles one half, and with few periods nothing else would give it away.
    return enough if _EVEN_DUTY[0] <= duty <= _EVEN_DUTY[1] else enough + 3


def _periods(changes: Sequence[Change]) -> Iterator[float]:
    """Yield times between like changes, newest first, up to the first that was not seen exactly."""
    for index in range(len(changes) - 1, 0, -1):
        change, before = changes[index], changes[index - 1]
        if change.lit == before.lit:
            start = before  # the opposite change between them was lost
        elif index >= 2 and changes[index - 2].lit == change.lit:
            start = changes[index - 2]
        else:
            continue
        if not (change.exact and before.exact and start.exact):
            return
        yield change.at_s - start.at_s


def _mean_s(changes: Sequence[Change], lit: bool) -> float | None:
    halves = [
        after.at_s - before.at_s
        for before, after in pairwise(changes)
        if before.lit is lit and after.lit is not lit
    ]
    return sum(halves) / len(halves) if halves else None
