"""Every cause of a trip in the words that the person at the bench reads."""

from __future__ import annotations

from hal.errors import BenchError, InstrumentError, TripCause, TripKind
from hal.interlock.outputs import OutputId
from hal.interlock.rules import WireState
from wiring.saying import said_by, say

_READBACK = {
    TripKind.READBACK_WELDED: (
        "the teach contact was switched off but the teach wire is still {seen}",
        "Look for a welded teach contact or a relay that sticks; change the relay before the next unit.",
    ),
    TripKind.READBACK_DEAD: (
        "the teach contact was switched on but the teach wire did not leave floating",
        "Look for a relay that does not pull in, a blown fuse, or an open wire between relay and read-back.",
    ),
    TripKind.READBACK_WRONG_RAIL: (
        "the teach wire is {seen} where it should be {wanted}",
        "Look for a rail selector that sticks, exchanged relay or read-back wires, or a short on the teach wire.",
    ),
    TripKind.READBACK_UNEXPECTED: (
        "the teach wire went to {seen} without a command; it should be {wanted}",
        "Look for a loose wire, a contact that does not hold, or something touching the teach wire.",
    ),
}


def misread_wire(kind: TripKind, seen: WireState, wanted: WireState, nest: str) -> TripCause:
    """The teach wire does not follow the commands."""
    words, check = _READBACK[kind]
    return TripCause(kind, say(words, seen=seen, wanted=wanted), check, nest)


def supply_dead(nest: str) -> TripCause:
    """The unit has no supply although its relay is on."""
    return TripCause(
        TripKind.SUPPLY_DEAD,
        "the supply relay is on but the unit's L+ has no voltage",
        "Look for a blown fuse, a short in the unit's cable, or a supply relay that does not pull in.",
        nest,
    )


def supply_welded(nest: str) -> TripCause:
    """The unit has supply although its relay is off."""
    return TripCause(
        TripKind.SUPPLY_WELDED,
        "the supply relay is off but the unit's L+ still has voltage",
        "Look for a welded supply relay or a foreign voltage on the unit's cable; do not touch the unit's wires.",
        nest,
    )


def over_current(current_a: float, limit_a: float) -> TripCause:
    """The bench supply is at its current limit."""
    return TripCause(
        TripKind.OVER_CURRENT,
        say(
            "the bench supply gives {current_a:.0f} mA, its limit is {limit_a:.0f} mA",
            current_a=current_a * 1000,
            limit_a=limit_a * 1000,
        ),
        "Look for a short in the unit, its cable or the nest; what is fed may be hot. Then start again.",
    )


def contact_too_long(nest: str) -> TripCause:
    """The contact was opened by the interlock's own timer."""
    return TripCause(
        TripKind.CONTACT_TOO_LONG,
        "the teach contact reached the longest time allowed and was opened",
        "Teach this unit again from the start; if it happens again, report it together with the journal.",
        nest,
    )


STOP_PRESSED = TripCause(
    TripKind.STOP_PRESSED,
    "the stop button is pressed",
    "Make sure that the bench is clear, then pull the stop button out and reset.",
)

COIL_SUPPLY_LOST = TripCause(
    TripKind.COIL_SUPPLY_LOST,
    "the relay coils have no supply",
    "Check that the bench supply is on, the fuse of the coil supply, and the heartbeat module.",
)

COIL_SUPPLY_STUCK = TripCause(
    TripKind.COIL_SUPPLY_STUCK,
    "the relay coils have supply although the heartbeat is at rest",
    "Do not use the bench: its heartbeat module is bridged or defective and would not stop a hung program.",
)


def heartbeat_late(late_s: float) -> TripCause:
    """The program was held up for longer than the heartbeat module waits."""
    return TripCause(
        TripKind.HEARTBEAT_LATE,
        say("the program was held up and the heartbeat paused for {late_s:.2f} s", late_s=late_s),
        "Close other programs on this computer, then reset; if it happens again, report it with the journal.",
    )


def output_failed(output: OutputId, error: BaseException) -> TripCause:
    """An output could not be written."""
    return TripCause(
        TripKind.OUTPUT_FAILED,
        say("output {output} could not be written: {error}", output=output, error=error),
        "Switch the bench supply off by hand, then check the computer and its GPIO connection.",
    )


def program_fault(error: BaseException) -> TripCause:
    """The program met an error it has no answer to."""
    return TripCause(
        TripKind.PROGRAM,
        say("the program met an error: {name}: {error}", name=type(error).__name__, error=error),
        "Report this together with the journal; the bench itself may be in order.",
    )


def board_lost(error: BenchError) -> TripCause:
    """A line of the board cannot be read any more, or what watches its outputs is gone."""
    return TripCause(TripKind.OUTPUT_FAILED, said_by(error), error.check)


def instrument_lost(error: InstrumentError) -> TripCause:
    """A serial instrument is gone."""
    return TripCause(error.kind, said_by(error), error.check)
