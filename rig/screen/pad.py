"""What a numeric pad reaches that has no function keys: 0 and Enter names an act, Enter alone does it.

No scan can do both. A scan has characters before its Enter, and whatever else is typed makes the first step
forgotten; a scanner that ends in two Enters sends the second too soon.
"""

from __future__ import annotations

from collections.abc import Sequence

from rig.screen.two_steps import Pressed, TwoSteps

NAMES_NEXT = "0"
"""What is typed; by itself it is taken for the end of no serial."""

ACTS = ("begin", "aside", "orders", "who", "leave")
"""The commands that are reached, the most urgent first."""


class NumericPad:
    """Remembers which act was named last; times in seconds of one clock."""

    def __init__(self) -> None:
        self._steps = TwoSteps()

    def typed(self, text: str) -> None:
        """Take note of what stands in the field, after each key."""
        if text.strip(NAMES_NEXT):
            self._steps.forget()

    def names(self, line: str, acts: Sequence[str], now_s: float) -> str:
        """The act that a line names: the first of these, or the one behind that which was named just now; else none."""
        if line != NAMES_NEXT or not acts:
            return ""
        named = self._steps.waits_for(now_s)
        act = acts[(acts.index(named) + 1) % len(acts) if named in acts else 0]
        self._steps.forget()
        self._steps.press(act, now_s)
        return act

    def does(self, line: str, acts: Sequence[str], now_s: float) -> str:
        """The act that a line does: Enter alone the one that was named, in time and not too soon; else none."""
        named = self._steps.waits_for(now_s)
        second = not line and named in acts and self._steps.press(named, now_s) is Pressed.SECOND
        self._steps.forget()
        return named if second else ""
