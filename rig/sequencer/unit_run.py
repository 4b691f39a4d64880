"""One unit from the person's hand to its verdict."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from typing import TypeVar

from hal.errors import NoAnswer
from rig.chronicle import Chronicle
from rig.events import PersonSilent, UnitJudged
from rig.sequencer.any_work import AnyWork
from rig.sequencer.bench_air import confirm_air, doubt_air
from rig.sequencer.findings import Finding, Reason, undecided
from rig.sequencer.work import Work
from wiring.saying import said_by

_AnyWork = TypeVar("_AnyWork", bound=AnyWork)

Stage = Callable[[Work], Awaitable[Finding | None]]
"""A part of the work on one unit: it ends the unit with a finding, or hands it on with None."""


async def run_unit(work: Work, stages: Sequence[Stage]) -> Finding:
    """Take the unit in the nest through its stages; relays are off and the record is durable on return.

    Raises:
        Tripped: when the interlock opened; the caller says what becomes of the unit.
        JournalError: when the record cannot be kept.

    """
    try:
        await work.bench.interlock.arm()
        async with work.bench.watched():
            finding = await find(work, stages)
    finally:
        work.bench.interlock.rest()
    await judge(work.chronicle, finding)
    return finding


async def find(work: _AnyWork, stages: Sequence[Callable[[_AnyWork], Awaitable[Finding | None]]]) -> Finding:
    """What the stages find, at the bench or from the record, in the air that the plan was made for."""
    try:
        finding = await doubt_air(work)
        if finding is not None:
            return finding
        for stage in stages:
            finding = await stage(work)
            if finding is not None:
                return await confirm_air(work, finding)
    except NoAnswer as silence:
        work.note(PersonSilent(said_by(silence)))
        return undecided(Reason.NO_ANSWER, said_by(silence))
    return undecided(Reason.INTERRUPTED, "the last stage came to no verdict")


async def judge(chronicle: Chronicle, finding: Finding) -> None:
    """Record a verdict; what it rests on is durable before it, and it before anything follows."""
    await chronicle.durable()
    chronicle.note(UnitJudged(finding.verdict, str(finding.reason), finding.words))
    await chronicle.durable()
