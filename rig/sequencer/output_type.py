"""Telling PNP, NPN, push-pull, open wire and short apart by pulling the output both ways.

Common practice, no source: a stage that is on holds its rail against the load; one that is off gives
way to it. One state alone cannot tell an output that is off from an open wire.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from hal.nest import OutputLevel
from rig.events import OutputRead
from rig.sequencer.findings import Finding, Reason, bad, undecided
from wiring.saying import say
from wiring.terms import OutputType, Rail


class Drive(StrEnum):
    """What an output does against a load pulled to L- and then to L+."""

    FOLLOWS = "follows the load"
    HOLDS_PLUS = "holds L+"
    HOLDS_MINUS = "holds L-"
    UNCLEAR = "unclear"


def drive(load_to_minus: OutputLevel, load_to_plus: OutputLevel) -> Drive:
    """Combine the readings under both load directions."""
    pair = (load_to_minus, load_to_plus)
    if pair == (OutputLevel.AT_MINUS, OutputLevel.AT_PLUS):
        return Drive.FOLLOWS
    if pair == (OutputLevel.AT_PLUS, OutputLevel.AT_PLUS):
        return Drive.HOLDS_PLUS
    if pair == (OutputLevel.AT_MINUS, OutputLevel.AT_MINUS):
        return Drive.HOLDS_MINUS
    return Drive.UNCLEAR


def drive_of(readings: Mapping[Rail, OutputRead]) -> Drive:
    """What an output does, from its readings under both loads; unsteady counts as unclear."""
    if not all(reading.steady for reading in readings.values()):
        return Drive.UNCLEAR
    return drive(*(OutputLevel(readings[load].level) for load in (Rail.MINUS, Rail.PLUS)))


_WHEN_ON_AND_OFF: dict[tuple[Drive, Drive], OutputType] = {
    (Drive.HOLDS_PLUS, Drive.FOLLOWS): OutputType.PNP,
    (Drive.HOLDS_MINUS, Drive.FOLLOWS): OutputType.NPN,
    (Drive.HOLDS_PLUS, Drive.HOLDS_MINUS): OutputType.PUSH_PULL,
}


def stage_of(when_on: Drive, when_off: Drive) -> OutputType | None:
    """The output type that drives like this when on and when off; None when none does."""
    return _WHEN_ON_AND_OFF.get((when_on, when_off))


def telling_load(output_type: OutputType) -> Rail:
    """The load direction under which on and off of this output type look different."""
    return Rail.PLUS if output_type is OutputType.NPN else Rail.MINUS


def is_on(output_type: OutputType, level: OutputLevel) -> bool | None:
    """Whether a level under the telling load means on; None when it means neither."""
    on = OutputLevel.AT_MINUS if output_type is OutputType.NPN else OutputLevel.AT_PLUS
    off = OutputLevel.AT_PLUS if output_type is OutputType.NPN else OutputLevel.AT_MINUS
    return {on: True, off: False}.get(level)


def judge_output(
    wanted: OutputType, when_on: Drive, when_off: Drive, led_follows: bool | None
) -> Finding | None:
    """Judge the output stage from its drive where it must be on and where it must be off.

    Args:
        wanted: the output type of the order.
        when_on: drive at the check position that needs the output on.
        when_off: drive at the one that needs it off.
        led_follows: whether the LED changed between the two as the output should; None if unknown.

    Returns:
        None for a stage of the wanted type that switches the right way, else what is wrong.

    """
    if Drive.UNCLEAR in (when_on, when_off):
        return undecided(
            Reason.OUTPUT_UNCLEAR,
            "output is at neither rail or does not keep still: check the output wire, the load and the supply",
        )
    found = stage_of(when_on, when_off)
    if found is wanted:
        return None
    if found is not None:
        return bad(
            Reason.OUTPUT_TYPE,
            say("output is {found}, the order asks for {wanted}", found=found, wanted=wanted),
        )
    inverse = stage_of(when_off, when_on)
    if inverse is not None:
        return bad(Reason.OUTPUT_INVERSE, "output is inverse: on where it must be off")
    return _judge_still(when_on, led_follows)


def _judge_still(always: Drive, led_follows: bool | None) -> Finding:
    if led_follows is False:
        return bad(
            Reason.NOT_DETECTED,
            "unit does not switch between target and clear beam: target not detected inside the zone",
        )
    if always is Drive.FOLLOWS:
        seen = "the LED switches but the output does not" if led_follows else "output never comes on"
        return undecided(
            Reason.OUTPUT_OPEN, say("{seen}: output wire open in the unit or the harness", seen=seen)
        )
    rail = Rail.PLUS if always is Drive.HOLDS_PLUS else Rail.MINUS
    return undecided(
        Reason.OUTPUT_STUCK,
        say(
            "output stays at {rail} whatever the target does: shorted to {rail} in the unit or the "
            "harness, or the load relay is stuck",
            rail=rail,
        ),
    )
