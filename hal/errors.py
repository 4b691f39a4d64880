"""What can end a job on the bench, by when it happens.

BenchError
|-- BenchInUse        at opening: a line or port belongs to somebody else
|-- InstrumentError   at any time: a serial instrument is silent or talks nonsense
|-- NoAnswer          while a person was asked for something
|-- Refused           a command would have broken a bench rule (a fault of the program)
`-- Tripped           the interlock has switched everything off
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from wiring.saying import say


class BenchError(Exception):
    """Something on the bench ended what was being done; `check` says what the person should do next."""

    check = "Look at the last event before this one, put it right, and start again."

    def __init__(self, words: str, *, check: str = "") -> None:
        super().__init__(words)
        if check:
            self.check = check


class BenchInUse(BenchError, OSError):
    """A line or a serial port is held by another program."""

    check = "End the other program that drives this bench, then start again."


class InstrumentError(BenchError, OSError):
    """A serial instrument cannot be opened, does not answer, or answers what nobody asked; `kind` if that is known."""

    check = "Check that the instrument is on, and its cable and port, then start again."

    def __init__(self, words: str, *, check: str = "", kind: TripKind | None = None) -> None:
        super().__init__(words, check=check)
        self.kind = kind or TripKind.INSTRUMENT_LOST


class NoAnswer(BenchError, TimeoutError):
    """The person did not answer a request in time."""

    check = "Do what was asked, press the foot switch or 'done', and start the unit again."


class Refused(BenchError, RuntimeError):
    """A command would have broken a bench rule; the interlock has tripped because of it."""

    check = "This is a fault of the program, not of the bench: report it together with the journal."


class TripKind(StrEnum):
    """Why the interlock switched everything off."""

    STOP_PRESSED = "stop-pressed"
    HEARTBEAT_LATE = "heartbeat-late"
    COIL_SUPPLY_LOST = "coil-supply-lost"
    COIL_SUPPLY_STUCK = "coil-supply-stuck"
    READBACK_WELDED = "readback-welded"
    READBACK_DEAD = "readback-dead"
    READBACK_WRONG_RAIL = "readback-wrong-rail"
    READBACK_UNEXPECTED = "readback-unexpected"
    SUPPLY_DEAD = "supply-dead"
    SUPPLY_WELDED = "supply-welded"
    OVER_CURRENT = "over-current"
    CONTACT_TOO_LONG = "contact-too-long"
    INSTRUMENT_LOST = "instrument-lost"
    DRIVE_STALLED = "drive-stalled"
    DRIVE_LOST_STEPS = "drive-lost-steps"
    DRIVE_LATE = "drive-late"
    OUTPUT_FAILED = "output-failed"
    PROGRAM = "program"
    ASKED = "asked"


@dataclass(frozen=True, slots=True)
class TripCause:
    """One reason for a trip: what happened, and what the person should check before the reset."""

    kind: TripKind
    words: str
    check: str
    nest: str | None = None

    def __str__(self) -> str:
        return say("nest {nest}: {words}", nest=self.nest, words=self.words) if self.nest else self.words


class Tripped(BenchError):
    """The interlock has switched everything off and holds it off until a person resets it."""

    def __init__(self, cause: TripCause) -> None:
        super().__init__(str(cause), check=cause.check)
        self.cause = cause
