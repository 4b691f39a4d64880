"""The output stage: pulled both ways where it must be on and where it must be off, and what may look like another."""

from __future__ import annotations

from rig.events import Verdict
from rig.planning.plan import Requirement
from rig.sequencer.any_work import LEAVES, AnyWork
from rig.sequencer.findings import Finding, Reason, undecided
from rig.sequencer.inspection import doubt_output_wire
from rig.sequencer.output_type import Drive, drive_of, judge_output
from rig.sequencer.positions import LED_SETTLES_S, go, led_tells, load_of, note_check, planned_check
from wiring.saying import say

LOOK_AT_THE_BEAM = "look whether the target really leaves the beam, and take everything else out of it"

# Pulled both ways where the output must be on and where it must be off: that also proves these two. The beam is cleared
# of a target that the unit has just detected, so that one which stays behind is noticed wherever it came from before.
BY_OUTPUT_STAGE = (Requirement.DETECTS_INSIDE, Requirement.CLEAR_BEAM)


async def output_stage(work: AnyWork) -> Finding | None:
    """What is wrong with output type or function, with the target inside the zone and with a clear beam."""
    finding = await _read_output_stage(work)
    if finding is None or finding.verdict is not Verdict.BAD:
        return finding
    # A wire that comes off between two readings looks like another output stage: once more, before it is said.
    again = await _read_output_stage(work)
    if again is None:
        return undecided(
            Reason.OUTPUT_UNSTEADY, say("{words}; right only at the second reading", words=finding.words)
        )
    return again if again.verdict is not Verdict.BAD else await doubt_output_wire(work) or again


async def _read_output_stage(work: AnyWork) -> Finding | None:
    drives: dict[bool, Drive] = {}
    right: dict[Requirement, bool] = {}
    for requirement in BY_OUTPUT_STAGE:
        one = planned_check(work, requirement)
        await go(work, one, one.position_mm)
        readings = await work.read_both_ways(str(requirement), one.position_mm)
        right[requirement] = (
            note_check(work, one, one.position_mm, readings[load_of(work)]) is one.expected_on
        )
        drives[one.expected_on] = drive_of(readings)
    led_follows = await _led_follows(work) if drives[True] is drives[False] else None
    if led_follows is False and right == {Requirement.DETECTS_INSIDE: True, Requirement.CLEAR_BEAM: False}:
        return undecided(
            Reason.TARGET_LEFT,
            say(
                "unit detects something though the beam is clear: {look_at_the_beam}",
                look_at_the_beam=LOOK_AT_THE_BEAM,
            ),
        )
    return judge_output(work.plan.inspection.output_type, drives[True], drives[False], led_follows)


async def target_leaves(work: AnyWork) -> bool:
    """Whether the output of a unit, whatever it is set to, changes when the target leaves the beam."""
    await work.place(LEAVES, work.plan.inside_mm)
    there = await work.read(LEAVES, work.plan.inside_mm, load_of(work))
    await work.clear_beam()
    gone = await work.read(LEAVES, None, load_of(work))
    return there.steady and gone.steady and there.level != gone.level


async def _led_follows(work: AnyWork) -> bool | None:
    """Whether the LED does what the output does not: change between target and clear beam."""
    if not led_tells(work):
        return None
    lit: list[bool | None] = []
    for requirement in BY_OUTPUT_STAGE:
        one = planned_check(work, requirement)
        await go(work, one, one.position_mm)
        lit.append(await work.led_at_rest(LED_SETTLES_S))
    return None if None in lit else lit[0] is not lit[1]
