"""What may energise something takes two presses of its key: the first says what it would do, the second does it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

# The second step: not so soon that one scan or a key held down could do both, nor so late that the words are forgotten.
_SOONEST_S, _LATEST_S = 0.3, 6.0


class Pressed(Enum):
    """What a press of such a key was."""

    FIRST = auto()
    TOO_SOON = auto()
    SECOND = auto()


@dataclass(slots=True)
class TwoSteps:
    """Remembers the first press; times in seconds of one clock."""

    _name: str = ""
    _at_s: float = 0.0

    def press(self, name: str, now_s: float) -> Pressed:
        """Take one press of the key of a command."""
        waited_s = now_s - self._at_s
        if self._name != name or waited_s >= _LATEST_S:
            self._name, self._at_s = name, now_s
            return Pressed.FIRST
        if waited_s < _SOONEST_S:
            return Pressed.TOO_SOON
        self.forget()
        return Pressed.SECOND

    def waits_for(self, now_s: float) -> str:
        """The command whose second press would do it; empty if none was pressed, or too long ago."""
        return self._name if now_s - self._at_s < _LATEST_S else ""

    def forget(self) -> None:
        """Let the next press be the first."""
        self._name = ""
