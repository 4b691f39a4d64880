"""Surveys the unit in the nest: inspection, its zone roughly, its edges finely, and what it is set to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

from rig.events import EdgeNotMeasured, Verdict
from rig.measuring.conclude import trouble_finding
from rig.measuring.measure import EdgeMeasurement, edge_measured
from rig.measuring.port import Port
from rig.measuring.trouble import NotMeasured
from rig.sequencer.any_work import AnyWork
from rig.sequencer.findings import Finding, Reason, undecided
from rig.sequencer.inspection import inspect_supply, judge_supply
from rig.sequencer.output_type import Drive
from rig.statistics.edge_checks import DetectedSide
from rig.survey.bounds import Bounds
from rig.survey.edges import edge_of, task_of
from rig.survey.exploring import Exploring, NothingFound, Unsteady
from rig.survey.recognise import Edge, Evidence, Switching, recognise
from rig.survey.zone import Span
from sequences.sensor_type import SensorType
from wiring.profile import TargetProfile

# The LED settles within this time of the target's coming or going.
_LED_SETTLES_S = 3.0
# Where along the range the LED is looked at when the output says nothing.
_LED_SHARES = (0.0, 0.25, 0.5, 0.75)


_W = TypeVar("_W", bound=AnyWork)


@dataclass(frozen=True)
class Surveying(Generic[_W]):
    """The stages of a survey of units of one type, at the bench or from the record.

    Attributes:
        port: what edges of a unit in work are measured through, for a response time in seconds.

    """

    sensor_type: SensorType
    bounds: Bounds
    target: TargetProfile
    port: Callable[[_W, float], Port]

    async def inspect(self, work: _W) -> Finding | None:
        """Look at wire and supply; None when nothing is wrong."""
        return await inspect_supply(work)

    async def survey(self, work: _W) -> Finding:
        """Find out what the unit is set to; never teaches."""
        try:
            zone = await Exploring(work, self.sensor_type.timing, self.bounds).explore()
            knowing = _knowing(work, zone.switching)
            far = await self._edge(knowing, DetectedSide.NEARER, zone.far)
            near = await self._edge(knowing, DetectedSide.FARTHER, zone.near)
        except Unsteady as chatter:
            return undecided(
                Reason.OUTPUT_UNSTEADY, f"{chatter}: look for a loose plug, vibration or draught"
            )
        except NothingFound as nothing:
            return await self._explain(work, nothing)
        except NotMeasured as trouble:
            return trouble_finding(trouble)
        # A supply that has failed meanwhile puts every reading in doubt.
        supply = judge_supply(work, await work.measure_supply())
        return supply or self._recognise(work, Evidence(zone.switching, near, far))

    async def _edge(self, work: _W, side: DetectedSide, span: Span | None) -> Edge | None:
        if span is None:
            return None
        task = task_of(side, span, self.sensor_type, self.target, self.bounds)
        try:
            measured = await EdgeMeasurement(self.port(work, task.response_s), task).measure()
            return edge_of(edge_measured(task, measured))
        except NotMeasured as trouble:
            words = (str(task.called), str(trouble.trouble), str(trouble), trouble.check)
            work.note(EdgeNotMeasured(*words))
            raise

    def _recognise(self, work: _W, evidence: Evidence) -> Finding:
        found = recognise(evidence, self.bounds, self.sensor_type)
        work.note(found.as_event(evidence.switching))
        doubts = "; ".join(found.doubts)
        if doubts:
            return undecided(Reason.AMBIGUOUS, doubts)
        ends = [f"{name} {edge}" for name, edge in (("from", evidence.near), ("to", evidence.far)) if edge]
        words = " ".join((str(found.mode), str(evidence.switching.output_function), *ends))
        return Finding(Verdict.GOOD, Reason.RECOGNISED, f"{words}, output {evidence.switching.output_type}")

    async def _explain(self, work: _W, nothing: NothingFound) -> Finding:
        """An output that never changes: whether the unit detects nothing, or does and cannot say so."""
        if await self._led_switches(work):
            open_wire = nothing.does is Drive.FOLLOWS
            reason, what = (Reason.OUTPUT_OPEN, "open") if open_wire else (Reason.OUTPUT_STUCK, "shorted")
            words = f"{nothing}, but the LED switches: output wire {what} in the unit or the harness"
            return undecided(reason, words)
        return undecided(
            Reason.NOT_DETECTED,
            f"{nothing}: look whether unit and target face one another, whether something else stands in the beam, "
            "at the output wire, and whether the unit is of this type",
        )

    async def _led_switches(self, work: _W) -> bool:
        if not self.sensor_type.led_shows_output:
            return False
        await work.clear_beam()
        at_rest = await work.led_at_rest(_LED_SETTLES_S)
        for share in _LED_SHARES:
            await work.place("LED", self.bounds.along_range_mm(share))
            lit = await work.led_at_rest(_LED_SETTLES_S)
            if None not in (lit, at_rest) and lit is not at_rest:
                return True
        return False


def _knowing(work: _W, switching: Switching) -> _W:
    """The same work, with what has been found out of the output."""
    inspection = replace(work.plan.inspection, output_type=switching.output_type)
    plan = replace(work.plan, inspection=inspection, output_function=switching.output_function)
    return work.by_plan(plan)
