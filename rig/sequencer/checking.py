"""Checking: the output read on either side of every set point, and what the readings prove."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

from hal.nest import OutputLevel
from rig.events import OutputRead, ToleranceScanned, Verdict
from rig.planning.plan import Approach, Check, Requirement
from rig.sequencer.any_work import AnyWork
from rig.sequencer.findings import Finding, Reason, bad, good, undecided
from rig.sequencer.inspection import judge_supply
from rig.sequencer.output_stage import BY_OUTPUT_STAGE, output_stage
from rig.sequencer.positions import (
    LED_SETTLES_S,
    go,
    led_tells,
    load_of,
    note_check,
    planned_check,
    read_at,
    wrong_words,
)
from wiring.saying import say

_RELEASES = (Requirement.OUTER_RELEASE, Requirement.INNER_RELEASE)
_OPERATES = (
    Requirement.INNER_NOT_NEAR,
    Requirement.INNER_NOT_FAR,
    Requirement.OUTER_NOT_FAR,
    Requirement.OUTER_NOT_NEAR,
)
# Read once more at the end. No reading sees what happens after it: what nearly every drift shows in comes last.
_AGAIN = (Requirement.RANGE_END, Requirement.BLIND_END, *_OPERATES)
_REASONS: dict[Requirement, Reason] = {
    Requirement.BLIND_END: Reason.WRONG_ZONE,
    Requirement.RANGE_END: Reason.WRONG_ZONE,
    Requirement.OUTER_RELEASE: Reason.WIDE_DIFFERENTIAL,
    Requirement.INNER_RELEASE: Reason.WIDE_DIFFERENTIAL,
}
SCANNING = "out through the tolerance"
"""Where the target goes when a set point is scanned, as its events say."""

_UNSTEADY = "!"
# A loose wire that happens to keep still for as many readings is rare.
_STILL_READINGS = 5


async def check(work: AnyWork) -> Finding:
    """Read every check position; good only if all were read, all were right and the supply still is."""
    finding = await output_stage(work)
    if finding is not None:
        return finding
    worst: Finding | None = None
    for one in work.plan.checks:
        if one.requirement not in BY_OUTPUT_STAGE:
            finding = await read_check(work, one)
            if finding is not None and _ends_checking(finding):
                return await _excused(work, finding) or finding
            worst = worst or finding
    for positions_mm in work.plan.scans_mm:
        finding = await _changes_once(work, positions_mm)
        if finding is not None:
            return await _excused(work, finding) or finding
    moved = None if worst else await _still_as_it_was(work, _AGAIN)
    if moved is not None:
        return moved
    measured = await work.measure_supply()
    unmeasured = "" if measured.current_a is not None else "; supply current not measured"
    return (
        worst
        or judge_supply(work, measured)
        or good(
            say(
                "{count} check positions read, all right{unmeasured}",
                count=len(work.plan.checks),
                unmeasured=unmeasured,
            )
        )
    )


async def _excused(work: AnyWork, finding: Finding) -> Finding | None:
    """What else explains what was read of a unit that is to be blamed: its supply, or a target that has slipped."""
    if finding.verdict is not Verdict.BAD:
        return None
    supply = judge_supply(work, await work.measure_supply())
    if supply is not None:
        return supply
    if finding.reason is Reason.WRONG_ZONE:
        # A slipped target makes the ends of the range look wrong, but the set points too.
        return await _still_as_it_was(work, _OPERATES)
    return await _rattles(work, finding) if finding.reason is Reason.OUTPUT_UNSTEADY else None


async def _rattles(work: AnyWork, finding: Finding) -> Finding | None:
    """A unit that scatters keeps still far from its set points; a wire that is loose does so nowhere."""
    still = next(one for one in map(partial(planned_check, work), BY_OUTPUT_STAGE) if one.expected_on)
    for _ in range(_STILL_READINGS):
        if await read_at(work, still, still.position_mm) is not True:
            return undecided(
                Reason.OUTPUT_CHATTERS,
                say(
                    "{words}; nor does it stay on where it must: check output wire, load and plug",
                    words=finding.words,
                ),
            )
    return None


async def _changes_once(work: AnyWork, positions_mm: Sequence[float]) -> Finding | None:
    """Go out of the zone through the tolerance of a set point, where the output of a good unit changes once.

    Once more where it does not: something may have moved just then.
    """
    if await _scan(work, positions_mm) <= 1:
        return None
    words = say(
        "output changes over and over between {first_mm:.1f} and {last_mm:.1f} mm, "
        "where it should change once",
        first_mm=positions_mm[0],
        last_mm=positions_mm[-1],
    )
    if await _scan(work, positions_mm) <= 1:
        return undecided(Reason.OUTPUT_UNSTEADY, say("{words}; right only at the second time", words=words))
    return bad(Reason.OUTPUT_UNSTEADY, say("{words}: repeat accuracy too bad", words=words))


async def _scan(work: AnyWork, positions_mm: Sequence[float]) -> int:
    """How often the output changes on the way."""
    load, inside = load_of(work), planned_check(work, Requirement.DETECTS_INSIDE)
    await go(work, inside, inside.position_mm)
    await work.rest(work.plan.settle_s)
    readings = []
    for at_mm in positions_mm:
        await work.place(SCANNING, at_mm)
        readings.append(await work.read(SCANNING, at_mm, load))
    outputs = "".join(_sign(reading) for reading in readings)
    # The one change may come while the output is read, and shows in the next reading once more.
    changes = max(
        outputs.count(_UNSTEADY), sum(one.level != other.level for one, other in pairwise(readings))
    )
    work.note(ToleranceScanned(positions_mm[0], positions_mm[-1], outputs, changes))
    return changes


async def _still_as_it_was(work: AnyWork, again: Sequence[Requirement]) -> Finding | None:
    """Read some checks once more at the end: a unit that has drifted meanwhile must not leave as good."""
    planned = {one.requirement: one for one in work.plan.checks}
    for one in (planned[requirement] for requirement in again if requirement in planned):
        await go(work, one, one.position_mm)
        # Not watched any more: the less time passes behind it, the less can still happen unseen.
        seen = await work.glance(str(one.requirement), one.position_mm, load_of(work))
        read_on = note_check(work, one, one.position_mm, seen)
        if read_on is not one.expected_on:
            return undecided(
                Reason.SET_POINT_MOVED,
                say(
                    "{work}, though it was right before: unit drifts, or the target has slipped",
                    work=wrong_words(work, one, one.position_mm, read_on),
                ),
            )
    return None


def _sign(reading: OutputRead) -> str:
    signs = {OutputLevel.AT_PLUS: "+", OutputLevel.AT_MINUS: "-"}
    return signs.get(OutputLevel(reading.level), "?") + ("" if reading.steady else _UNSTEADY)


def _ends_checking(finding: Finding) -> bool:
    # Once something moves that should stand still, no later reading means what it says.
    return finding.verdict is Verdict.BAD or finding.reason is Reason.SET_POINT_MOVED


async def read_check(work: AnyWork, one: Check) -> Finding | None:
    """Read one check position, and its proof if need be; None where the output is right."""
    read_on = await read_at(work, one, one.position_mm)
    if read_on is one.expected_on:
        return None
    words = wrong_words(work, one, one.position_mm, read_on)
    if one.proof_mm is None:
        return undecided(Reason.NEAR_TOLERANCE, say("{words}; too near the tolerance to tell", words=words))
    # One wrong reading may be a passing hand; a second one at the proof, from the same side, is the unit.
    at_proof = await read_at(work, one, one.proof_mm)
    if at_proof is not one.expected_on:
        return await _blame(work, one, one.proof_mm, at_proof)
    if one.proof_mm == one.position_mm:
        return undecided(
            Reason.OUTPUT_UNSTEADY, say("{words}; right only at the second reading", words=words)
        )
    return undecided(
        Reason.NEAR_TOLERANCE,
        say(
            "{words}, but right at {proof_mm:g} mm: too near the tolerance to tell",
            words=words,
            proof_mm=one.proof_mm,
        ),
    )


async def _blame(work: AnyWork, one: Check, position_mm: float, read_on: bool | None) -> Finding:
    words = wrong_words(work, one, position_mm, read_on)
    if read_on is None:
        return bad(Reason.OUTPUT_UNSTEADY, words)
    finding = await _contradicted_by_led(work, words, read_on)
    if finding is None and one.requirement in _RELEASES:
        finding = await _find_moved(work, one, position_mm, words)
    return finding or bad(_REASONS.get(one.requirement, Reason.SET_POINT_OFF), words)


async def _find_moved(work: AnyWork, one: Check, position_mm: float, words: str) -> Finding | None:
    """Tell a set point that has moved from a differential that is too wide: by coming from a clear beam."""
    afresh = await read_at(work, replace(one, approach=Approach.FROM_CLEAR), position_mm)
    if afresh is one.expected_on:
        return None
    return undecided(
        Reason.SET_POINT_MOVED,
        say(
            "{words}, even from a clear beam, though the set point was right a moment before: unit "
            "drifts, or the target has slipped",
            words=words,
        ),
    )


async def _contradicted_by_led(work: AnyWork, words: str, read_on: bool) -> Finding | None:
    """What stands against blaming the unit: its own LED may show another output than was read at the wire."""
    lit = await work.led_at_rest(LED_SETTLES_S) if led_tells(work) else None
    if lit is None or lit is read_on:
        return None
    return undecided(
        Reason.OUTPUT_UNCLEAR,
        say("{words}, yet by its LED it is: check output wire, load and inputs", words=words),
    )
