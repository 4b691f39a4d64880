"""Checking: the output read on either side of every set point, and what the readings prove."""

from __future__ import annotations

from hal.nest import OutputLevel
from rig.events import CheckDone, OutputRead, Verdict
from rig.planning.plan import Approach, Check, Requirement
from rig.sequencer.findings import Finding, Reason, bad, good, undecided
from rig.sequencer.output_type import Drive, is_on, judge_output, telling_load
from rig.sequencer.work import Work, drive_of
from wiring.terms import LedKind

_REASONS: dict[Requirement, Reason] = {
    Requirement.CLEAR_BEAM: Reason.NOT_DETECTED,
    Requirement.DETECTS_INSIDE: Reason.NOT_DETECTED,
    Requirement.BLIND_END: Reason.WRONG_ZONE,
    Requirement.RANGE_END: Reason.WRONG_ZONE,
    Requirement.OUTER_RELEASE: Reason.WIDE_DIFFERENTIAL,
    Requirement.INNER_RELEASE: Reason.WIDE_DIFFERENTIAL,
}


async def check(work: Work) -> Finding:
    """Read every check position; good only if all were read and all were right."""
    finding = await _check_output_stage(work)
    if finding is not None:
        return finding
    worst: Finding | None = None
    for one in work.plan.checks:
        if one.requirement not in _BY_OUTPUT_STAGE:
            finding = await _check_one(work, one)
            if finding is not None and finding.verdict is Verdict.BAD:
                return finding
            worst = worst or finding
    return worst or good(f"{len(work.plan.checks)} check positions read, all right")


# Pulled both ways where the output must be on and where it must be off: that also proves these two.
_BY_OUTPUT_STAGE = (Requirement.CLEAR_BEAM, Requirement.DETECTS_INSIDE)


async def _check_output_stage(work: Work) -> Finding | None:
    drives: dict[bool, Drive] = {}
    led: list[LedKind] = []
    for requirement in _BY_OUTPUT_STAGE:
        one = _find(work, requirement)
        await _go(work, one)
        readings = await work.read_both_ways(str(requirement), one.position_mm)
        _note_check(work, one, one.position_mm, readings[telling_load(work.plan.inspection.output_type)])
        drives[one.expected_on] = drive_of(readings)
        led.append(work.led_now().kind)
    led_follows = _led_follows(work, *led)
    return judge_output(work.plan.inspection.output_type, drives[True], drives[False], led_follows)


def _find(work: Work, requirement: Requirement) -> Check:
    return next(one for one in work.plan.checks if one.requirement is requirement)


def _led_follows(work: Work, first: LedKind, second: LedKind) -> bool | None:
    lit = {LedKind.STEADY: True, LedKind.DARK: False}
    if not (work.plan.led_shows_output and work.led_proven) or first not in lit or second not in lit:
        return None
    return first is not second


async def _check_one(work: Work, one: Check) -> Finding | None:
    read_on = await _read_at(work, one, one.position_mm)
    if read_on is one.expected_on:
        return None
    if one.proof_mm is None:
        return undecided(Reason.NEAR_TOLERANCE, _words(one, one.position_mm, read_on))
    if one.proof_mm == one.position_mm:
        return await _confirm(work, one)
    at_proof = await _read_at(work, one, one.proof_mm)
    if at_proof is one.expected_on:
        return undecided(
            Reason.NEAR_TOLERANCE, f"{_words(one, one.position_mm, read_on)}, but not surely outside"
        )
    return bad(_REASONS.get(one.requirement, Reason.SET_POINT_OFF), _words(one, one.proof_mm, at_proof))


async def _confirm(work: Work, one: Check) -> Finding | None:
    # One wrong reading may be a passing hand; the same from the same side again is the unit.
    again = await _read_at(work, one, one.position_mm)
    if again is one.expected_on:
        return undecided(
            Reason.OUTPUT_UNSTEADY, f"{_words(one, one.position_mm, None)}, right only at the second reading"
        )
    reason = Reason.OUTPUT_UNSTEADY if again is None else _REASONS[one.requirement]
    return bad(reason, _words(one, one.position_mm, again))


async def _read_at(work: Work, one: Check, position_mm: float | None) -> bool | None:
    await _go(work, one, position_mm)
    load = telling_load(work.plan.inspection.output_type)
    return _note_check(work, one, position_mm, await work.read(str(one.requirement), position_mm, load))


def _note_check(work: Work, one: Check, position_mm: float | None, reading: OutputRead) -> bool | None:
    level = OutputLevel(reading.level)
    read_on = is_on(work.plan.inspection.output_type, level) if reading.steady else None
    work.chronicle.note(
        CheckDone(str(one.requirement), str(one.approach), position_mm, one.expected_on, read_on)
    )
    return read_on


async def _go(work: Work, one: Check, position_mm: float | None = None) -> None:
    position_mm = one.position_mm if position_mm is None else position_mm
    if position_mm is None or one.approach is Approach.FROM_CLEAR:
        await work.clear_beam()
        await work.bench.waits.sleep(work.plan.settle_s)
    if position_mm is not None:
        await work.place(str(one.requirement), position_mm)


def _words(one: Check, position_mm: float | None, read_on: bool | None) -> str:
    where = "with a clear beam" if position_mm is None else f"at {position_mm:.1f} mm"
    seen = {True: "on", False: "off", None: "not steady"}[read_on]
    return f"{one.requirement}: output {seen} {where}, must be {'on' if one.expected_on else 'off'}"
