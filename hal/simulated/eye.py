"""The person's eye on a unit's LED: slower than a pick-up, and knows only what the request said."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise
from typing import NamedTuple

from hal.simulated.clock import NS
from hal.simulated.timeline import Timeline

_GLANCE_NS = 20 * NS // 1000
_STILL_S = 0.6  # this long without a change is steady, dark, or the end of the blinks
_BLINK_S = 0.35
_RATE_SHARE = 0.15

_SIGN = re.compile(r"shows (?:(steady|dark)|flashing ([\d.]+) Hz|(\d+) blinks?)\b")


class Seen(NamedTuple):
    """The LED became lit or dark."""

    at_s: float
    lit: bool


class Eye:
    """Watches a LED while a request is open; `sees_it` when it shows what the request's text names."""

    def __init__(
        self, timeline: Timeline, text: str, *, lit: Callable[[], bool], still_asked: Callable[[], bool]
    ) -> None:
        self.sees_it = False
        self._timeline = timeline
        self._lit = lit
        self._still_asked = still_asked
        self._sign = _SIGN.search(text)
        self._seen = [Seen(timeline.now_ns / NS, lit())]
        self._glance()

    @property
    def has_a_sign(self) -> bool:
        """Whether the request names something that a LED can show."""
        return self._sign is not None

    def _glance(self) -> None:
        if self._sign is None or not self._still_asked():
            return
        now_s, lit = self._timeline.now_ns / NS, self._lit()
        if lit is not self._seen[-1].lit:
            self._seen.append(Seen(now_s, lit))
        self.sees_it = self._shows(self._sign, now_s)
        self._timeline.after(_GLANCE_NS, self._glance)

    def _shows(self, sign: re.Match[str], now_s: float) -> bool:
        level, rate_hz, count = sign.groups()
        still = now_s - self._seen[-1].at_s >= _STILL_S
        if level:
            return still and self._seen[-1].lit is (level == "steady")
        if rate_hz:
            return self._flashes(float(rate_hz), now_s)
        return still and self._blinks() == int(count)

    def _flashes(self, rate_hz: float, now_s: float) -> bool:
        changes = self._seen[1:]
        if len(changes) < 5 or now_s - changes[-1].at_s > 1 / rate_hz:
            return False
        period_s = (changes[-1].at_s - changes[-5].at_s) / 2
        return abs(period_s * rate_hz - 1) < _RATE_SHARE

    def _blinks(self) -> int:
        lengths_s = [(was.lit, now.at_s - was.at_s) for was, now in pairwise(self._seen[1:])]
        return sum(lit and length_s <= _BLINK_S for lit, length_s in lengths_s)
