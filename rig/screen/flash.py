"""The large word of a verdict flashes a few times, where that is wished."""

from __future__ import annotations

import math

# Three flashes, and never more than three in a second, as WCAG 2.1 asks (2.3.1): half a flash is more than a third of
# a second, so that they keep apart even where some are painted late.
_HALF_S, _FLASHES = 0.35, 3


class Flash:
    """Whether the word is gone at a moment; times in seconds of one clock."""

    def __init__(self) -> None:
        self._since_s = -math.inf
        self.blank = False

    def begin(self, now_s: float) -> None:
        """A verdict has come."""
        self._since_s = now_s

    def follow(self, now_s: float, *, wished: bool) -> bool:
        """Bring `blank` up to date; tells whether it has changed."""
        was, since_s = self.blank, now_s - self._since_s
        self.blank = wished and since_s < 2 * _FLASHES * _HALF_S and int(since_s / _HALF_S) % 2 == 1
        return self.blank is not was
