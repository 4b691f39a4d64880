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
    TOO_FAST = "slid-too-fast"
    EDGE_MISSED = "edge-missed"
    GAUGE_SILENT = "gauge-silent"
    GAUGE_STUCK = "gauge-stuck"
    SLIDES_DISAGREE = "slides-disagree"


_CHECKS = {
    Trouble.TARGET_LEFT: "Look whether the target really leaves the beam, and take everything else out of it.",
    Trouble.NOT_DETECTED: "Look whether unit and target face one another, and what the unit is set to.",
    Trouble.OUTPUT_CHATTERS: "Look for a loose plug, vibration or draught; else the unit is noisy: set it aside.",
    Trouble.OUTPUT_UNCLEAR: "Check the output wire, the load and the supply.",
    Trouble.CHANGES_ITS_MIND: "Look for draught, warming up or a second object; measure again; else set it aside.",
    Trouble.TOO_FAST: "Slide the target more slowly, with a steady hand; a screw or a stop helps.",
    Trouble.EDGE_MISSED: "Look whether the target was slid all the way, and what the unit is set to.",
    Trouble.GAUGE_SILENT: "Check the gauge's supply and cable.",
    Trouble.GAUGE_STUCK: "Look whether the gauge follows the target, and is mounted as the rig profile says.",
    Trouble.SLIDES_DISAGREE: "Read the scale again with care; look for play in the target's way, and for draught.",
    Trouble.BEYOND_REACH: "Look what the unit is set to, and whether the target's way covers its range.",
}


class NotMeasured(Exception):
    """An edge could not be measured: no number may be told of it. `check` says what the person should do."""

    def __init__(self, trouble: Trouble, words: str) -> None:
        super().__init__(words)
        self.words = words
        self.trouble = trouble

    @property
    def check(self) -> str:
        """What to look at."""
        return _CHECKS[self.trouble]
