"""One unit from the person's hand to its verdict."""

from __future__ import annotations

from hal.errors import NoAnswer
from rig.chronicle import Chronicle
from rig.events import UnitJudged
from rig.sequencer.checking import check
from rig.sequencer.findings import Finding, Reason, undecided
from rig.sequencer.inspection import inspect
from rig.sequencer.teaching import teach
from rig.sequencer.work import Work


async def run_unit(work: Work) -> Finding:
    """Inspect, teach and check the unit in the nest; relays are off and the record is durable on return.

    Raises:
        Tripped: when the interlock opened; the caller says what becomes of the unit.
        JournalError: when the record cannot be kept.

    """
    try:
        await work.bench.interlock.arm()
        finding = await inspect(work) or await teach(work) or await check(work)
    except NoAnswer as silence:
        finding = undecided(Reason.NO_ANSWER, str(silence))
    finally:
        work.bench.interlock.rest()
    await judge(work.chronicle, finding)
    return finding


async def judge(chronicle: Chronicle, finding: Finding) -> None:
    """Record a verdict; what it rests on is durable before it, and it before anything follows."""
    await chronicle.durable()
    chronicle.note(UnitJudged(finding.verdict, str(finding.reason), finding.words))
    await chronicle.durable()
