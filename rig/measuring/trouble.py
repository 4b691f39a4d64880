"""Why an edge could not be measured, and what the person should look at."""

from __future__ import annotations

from enum import StrEnum


class Trouble(StrEnum):
    """What stood in the way, apart from the bench itself (a stage that stalls is an InstrumentError)."""

    TARGET_LEFT = "target-left-in-beam"
    NOT_DETECTED = "target-not-detected"
    OUTPUT_CHATTERS = "output-chatters"
    OUTPUT_UNCLEAR = "output-unclear"
    CHANGES_ITS_MIND = "unit-changes-its-mind"
    BEYOND_REACH = "edge-beyond-reach"


_CHECKS = {
    Trouble.TARGET_LEFT: "Look whether the target really leaves the beam, and take everything else out of it.",
    Trouble.NOT_DETECTED: "Look whether unit and target face one another, and what the unit is set to.",
    Trouble.OUTPUT_CHATTERS: "Look for a loose plug, vibration or draught; else the unit is noisy: set it aside.",
    Trouble.OUTPUT_UNCLEAR: "Check the output wire, the load and the supply.",
    Trouble.CHANGES_ITS_MIND: "Look for draught, warming up or a second object; measure again; else set it aside.",
    Trouble.BEYOND_REACH: "Look what the unit is set to, and whether the target's way covers its range.",
}


class NotMeasured(Exception):
    """An edge could not be measured: no number may be told of it. `check` says what the person should do."""

    def __init__(self, trouble: Trouble, words: str) -> None:
        super().__init__(words)
        self.trouble = trouble

    @property
    def check(self) -> str:
        """What to look at."""
        return _CHECKS[self.trouble]
