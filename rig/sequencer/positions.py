"""Check positions: going there, reading the output there, and what a wrong reading means."""

from __future__ import annotations

from hal.nest import OutputLevel
from rig.events import CheckDone, OutputRead
from rig.planning.plan import Approach, Check, Requirement
from rig.sequencer.any_work import AnyWork
from rig.sequencer.output_type import is_on, telling_load
from wiring.saying import say
from wiring.terms import DetectionMode, Rail

_MEANING: dict[Requirement, str] = {
    Requirement.BLIND_END: "wrong close to the blind zone",
    Requirement.RANGE_END: "range too short",
    Requirement.OUTER_NOT_FAR: "{outer} too far out",
    Requirement.OUTER_NOT_NEAR: "{outer} too near",
    Requirement.OUTER_RELEASE: "{outer} releases too late",
    Requirement.INNER_NOT_FAR: "{inner} too far out",
    Requirement.INNER_NOT_NEAR: "{inner} too near",
    Requirement.INNER_RELEASE: "{inner} releases too late",
}
# The LED settles within a second and a half of its last answer, in some types only after a dark pause.
LED_SETTLES_S = 3.0


def planned_check(work: AnyWork, requirement: Requirement) -> Check:
    """The check position that proves a requirement."""
    return next(one for one in work.plan.checks if one.requirement is requirement)


def load_of(work: AnyWork) -> Rail:
    """The load under which the unit's output tells on from off."""
    return telling_load(work.plan.inspection.output_type)


async def go(work: AnyWork, one: Check, position_mm: float | None) -> None:
    """Bring the target to a check position, the way that the check asks for."""
    if position_mm is None or one.approach is Approach.FROM_CLEAR:
        await work.clear_beam()
        await work.rest(work.plan.settle_s)
    if position_mm is not None:
        await work.place(str(one.requirement), position_mm)


async def read_at(work: AnyWork, one: Check, position_mm: float | None) -> bool | None:
    """Go to a check position, read, and note; None where the output was not steady."""
    await go(work, one, position_mm)
    seen = await work.read(str(one.requirement), position_mm, load_of(work))
    return note_check(work, one, position_mm, seen)


def note_check(work: AnyWork, one: Check, position_mm: float | None, reading: OutputRead) -> bool | None:
    """Note what a reading says of a check position: on, off, or None where it was not steady."""
    level = OutputLevel(reading.level)
    read_on = is_on(work.plan.inspection.output_type, level) if reading.steady else None
    work.note(CheckDone(str(one.requirement), str(one.approach), position_mm, one.expected_on, read_on))
    return read_on


def led_tells(work: AnyWork) -> bool:
    """Whether the LED shows the output, and has been seen to work."""
    return work.plan.led_shows_output and work.led_proven


def wrong_words(work: AnyWork, one: Check, position_mm: float | None, read_on: bool | None) -> str:
    """What a wrong reading means, in the words of the bench."""
    window = work.plan.mode is DetectionMode.WINDOW
    edges = {"outer": "far end" if window else "set point", "inner": "near end"}
    meaning = say(_MEANING[one.requirement], **edges)
    seen = {True: "on", False: "off", None: "not steady"}[read_on]
    return say(
        "{meaning}: output {seen} at {position_mm:.1f} mm, must be {what}",
        meaning=meaning,
        seen=seen,
        position_mm=position_mm,
        what="on" if one.expected_on else "off",
    )
