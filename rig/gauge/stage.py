"""One trial of a gauge study: the unit in the nest is measured as production measures it, and not judged."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

from rig.edges.edge import EdgeResult
from rig.events import EdgeNotMeasured, TrialBegun, Verdict
from rig.measuring.conclude import trouble_finding
from rig.measuring.measure import EdgeMeasurement
from rig.measuring.port import Port
from rig.measuring.trouble import NotMeasured
from rig.sequencer.any_work import AnyWork
from rig.sequencer.findings import Finding, Reason, undecided
from rig.sequencer.inspection import inspect
from wiring.saying import say

_W = TypeVar("_W", bound=AnyWork)


@dataclass(frozen=True)
class Trying(Generic[_W]):
    """The stages of a trial, at the bench or from the record.

    Attributes:
        port: what edges of a unit in work are measured through, for a response time in seconds.
        begin: says of a unit in work which trial it is there for.

    """

    port: Callable[[_W, float], Port]
    begin: Callable[[_W], TrialBegun]

    async def measure(self, work: _W) -> Finding:
        """Inspect the unit as before teaching, then measure its edge."""
        trial = self.begin(work)
        return await inspect(work) or await self._measured(work, trial)

    async def _measured(self, work: _W, trial: TrialBegun) -> Finding:
        measuring = work.plan.measuring
        assert measuring is not None, "a study is opened for orders that measure"
        port = self.port(work, measuring.response_s)
        wrong = await port.output_stage()
        if wrong is not None:
            return undecided(wrong.reason, say("not measured: {why}", why=wrong.words))
        task = next(one for one in measuring.tasks if one.called == trial.edge)
        try:
            return _finding(trial.edge, await EdgeMeasurement(port, task).measure())
        except NotMeasured as failed:
            work.note(EdgeNotMeasured(trial.edge, failed.trouble, failed.words, failed.check))
            return trouble_finding(failed)


def _finding(edge: str, result: EdgeResult) -> Finding:
    at_mm = result.figures.operate_mm
    words = say(
        "operate point, {edge}: {at_mm:.3f} mm, U {u_mm:.3f} mm",
        edge=edge,
        at_mm=at_mm.value,
        u_mm=at_mm.expanded,
    )
    return Finding(Verdict.GOOD, Reason.MEASURED, words)
