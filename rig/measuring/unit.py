"""Measures a whole unit and decides on it: its edges, then what belongs to the unit as a whole.

The same code comes to the same findings from a record (`rig.measuring.replay`), so nothing here may look past its port.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from rig.deciding.evidence import (
    availability_measured,
    current_measured,
    in_the_air,
    repeat_measured,
)
from rig.deciding.requirement import Figure, Requirement
from rig.deciding.rule import Judged, judge, judge_reading, standard_of
from rig.edges.edge import Edge, EdgeResult, Measured
from rig.edges.finest import finest_mm as finest_of
from rig.events import (
    EdgeNotMeasured,
    FigureMeasured,
    RequirementJudged,
    Verdict,
)
from rig.events.unit import DEVIATION
from rig.measuring.conclude import finding_of, trouble_finding
from rig.measuring.measure import EdgeMeasurement
from rig.measuring.port import Port
from rig.measuring.trouble import NotMeasured, Trouble
from rig.planning.measuring import TRAVEL_UNCERTAINTIES
from rig.planning.plan import Measuring, Plan
from rig.planning.plan import Requirement as Proves
from rig.sequencer.findings import Finding
from wiring.saying import say
from wiring.terms import OutputFunction

# An edge is measured on so often at most; each time as many readings as a whole search may take.
_MOST_ROUNDS = 2
# Measured on, the uncertainty shall be so much smaller than what there is to the limit.
_CLEARLY = 0.8
_PASSES_MORE = 10
_SEARCHED = (Figure.OPERATE, Figure.RELEASE, Figure.TRAVEL)
_PASSED = (Figure.RESPONSE_ON, Figure.RESPONSE_OFF)


@dataclass
class UnitMeasurement:
    """One unit on a port, measured as its plan says."""

    port: Port
    plan: Plan
    measuring: Measuring
    _read: dict[Figure, tuple[bool | None, Finding | None]] = field(default_factory=dict)
    _values: dict[Requirement, Measured] = field(default_factory=dict)
    _results: dict[Edge | None, EdgeResult] = field(default_factory=dict)

    async def run(self) -> Finding:
        """Measure and judge everything; raises what the bench raises."""
        wrong = await self.port.output_stage()
        self._read[Figure.OUTPUT] = _right(wrong), wrong
        if wrong is not None:
            return self._conclude(wrong)
        for task in self.measuring.tasks:
            edge = EdgeMeasurement(self.port, task)
            try:
                await self._measure(edge)
            except NotMeasured as failed:
                self.port.note(EdgeNotMeasured(str(task.called), failed.trouble, failed.words, failed.check))
                return self._conclude(trouble_finding(failed))
        await self._read_ends()
        left = await self._target_left()
        if left is not None:
            return self._conclude(left)
        await self._measure_the_unit()
        return self._conclude(None)

    # -- edges -----------------------------------------------------------------------------------------------

    async def _measure(self, edge: EdgeMeasurement) -> None:
        """One edge, and on as long as that may still change the verdict on the unit."""
        self._take(edge, await edge.measure())
        for _ in range(_MOST_ROUNDS):
            if any(one.verdict is Verdict.BAD for one in self._judged()):
                return
            open_ = [one for one in self._judged() if one.verdict is Verdict.UNDECIDED and one.measured]
            mine = [one for one in open_ if one.requirement.edge is edge.task.called]
            wanted_mm = self._finer_mm(edge, mine)
            if wanted_mm is not None:
                self._take(edge, await edge.refine(wanted_mm))
            elif edge.by_steps and any(one.requirement.figure in _PASSED for one in mine):
                self._take(edge, await edge.pass_by(_PASSES_MORE))
            else:
                return

    def _finer_mm(self, edge: EdgeMeasurement, open_: list[Judged]) -> float | None:
        """The uncertainty that would decide what is open; None where none that the bench can reach would."""
        finest_mm = finest_of(edge.task, self.port.setup.target) * (1 + 1e-9)
        needed = [self._needed_mm(one) for one in open_ if one.requirement.figure in _SEARCHED]
        wanted = [max(finest_mm, _CLEARLY * mm) for mm in needed if mm > finest_mm]
        finer_mm = min(wanted, default=edge.task.wanted_mm)
        return finer_mm if finer_mm < edge.task.wanted_mm else None

    def _needed_mm(self, one: Judged) -> float:
        """The uncertainty of an edge at which what is open would be just decided; 0 where the rule has no guard."""
        assert one.measured is not None, "what was not measured cannot be measured on"
        guard_mm = self.plan.decision.guard(standard_of(one.measured), one.measured.expanded)
        if guard_mm == 0:
            return 0.0
        allowed_mm = one.reach * one.measured.expanded / guard_mm
        if one.requirement.figure is Figure.TRAVEL:
            return allowed_mm / TRAVEL_UNCERTAINTIES
        # What the air adds stays.
        edge_mm = self._edge_expanded_mm(one)
        return math.sqrt(max(0.0, allowed_mm**2 - (one.measured.expanded**2 - edge_mm**2)))

    def _edge_expanded_mm(self, one: Judged) -> float:
        figures = self._results[one.requirement.edge].figures
        return (
            figures.operate_mm if one.requirement.figure is Figure.OPERATE else figures.release_mm
        ).expanded

    def _take(self, edge: EdgeMeasurement, result: EdgeResult) -> None:
        figures, target = result.figures, self.port.setup.target
        on, off, repeat = figures.response_on, figures.response_off, figures.repeat
        values = {
            Figure.OPERATE: in_the_air(figures.operate_mm, self.measuring.air),
            Figure.RELEASE: in_the_air(figures.release_mm, self.measuring.air),
            Figure.TRAVEL: figures.travel_mm,
            Figure.RESPONSE_ON: None if on is None else on.mean_s,
            Figure.RESPONSE_OFF: None if off is None else off.mean_s,
            Figure.REPEAT: None
            if repeat is None
            else repeat_measured(repeat, target.placement_mm, target.resolution_mm),
        }
        for one in self.measuring.required:
            if one.edge is edge.task.called and (value := values.get(one.figure)) is not None:
                self._values[one] = value
        self._results[edge.task.called] = result

    async def _target_left(self) -> Finding | None:
        """A target that its drive leaves in the beam falsifies what is measured of the unit as a whole."""
        if self.port.setup.target.speed_mm_s is None:
            return None
        await self.port.place("inside", self.plan.inside_mm)
        await self.port.clear()
        if not all([(await self.port.look("clear beam", None)).detected for _ in range(2)]):
            return None
        words = "the unit still detects something after the beam was cleared"
        return trouble_finding(NotMeasured(Trouble.TARGET_LEFT, words))

    # -- the unit as a whole ---------------------------------------------------------------------------------

    async def _read_ends(self) -> None:
        ends = [one for one in self.plan.checks if one.requirement in (Proves.BLIND_END, Proves.RANGE_END)]
        worst: Finding | None = None
        for check in ends:
            wrong = await self.port.position(check)
            if worst is None or (wrong is not None and wrong.verdict is Verdict.BAD):
                worst = wrong or worst
        if ends:
            self._read[Figure.ENDS] = _right(worst), worst

    async def _measure_the_unit(self) -> None:
        off_detects = self.plan.output_function is OutputFunction.NC
        supplied = await self.port.supply(detected=off_detects)
        current = None if supplied.current_a is None else current_measured(supplied.current_a)
        self._take_figure(Figure.CURRENT, current, "A")
        powered = await self.port.power_up(detected=not off_detects)
        delay = None
        if powered.on_after_s is not None:
            delay = availability_measured(powered.on_after_s, powered.doubt_s)
        self._take_figure(Figure.AVAILABILITY, delay, "s")
        # No bench of these profiles has a meter at the output.
        self._take_figure(Figure.VOLTAGE_DROP, None, "V")

    def _take_figure(self, figure: Figure, value: Measured | None, unit: str) -> None:
        at, expanded = _figures(value)
        self.port.note(FigureMeasured(str(figure), at, expanded, unit))
        for one in self.measuring.required:
            if one.figure is figure and value is not None:
                self._values[one] = value

    # -- the verdict -----------------------------------------------------------------------------------------

    def _conclude(self, ended_by: Finding | None) -> Finding:
        judged = tuple(self._judged())
        for event in self._deviations():
            self.port.note(event)
        for one in judged:
            self.port.note(requirement_judged(one, self.plan.decision.words))
        readings = [finding for _, finding in self._read.values() if finding is not None]
        return finding_of(judged, ended_by or next(iter(readings), None))

    def _judged(self) -> Iterator[Judged]:
        for one in self.measuring.required:
            if one.figure in self._read:
                right, finding = self._read[one.figure]
                words = "read, and right" if finding is None else finding.words
                yield judge_reading(one, right, words)
            else:
                yield judge(one, self._values.get(one), self.plan.decision)

    def _deviations(self) -> Iterator[FigureMeasured]:
        """How far each set point lies from the order: on the bench, and as it comes to the machine."""
        for one in self.measuring.required:
            value = self._values.get(one)
            if (
                one.figure is Figure.OPERATE
                and value is not None
                and one.low is not None
                and one.high is not None
            ):
                off_mm = value.value - (one.low + one.high) / 2
                bench_mm = self._results[one.edge].figures.operate_mm
                scale = self.plan.scale
                for figure, figure_mm, u_mm in (
                    ("deviation on the bench", off_mm, bench_mm.expanded),
                    (DEVIATION, off_mm / scale, value.expanded / scale),
                ):
                    name = say("{figure}, {edge}", figure=figure, edge=one.edge)
                    yield FigureMeasured(name, figure_mm, u_mm, "mm")


def requirement_judged(one: Judged, rule: str) -> RequirementJudged:
    """A judgement as it is recorded."""
    required, (value, expanded) = one.requirement, _figures(one.measured)
    return RequirementJudged(
        requirement=required.name,
        verdict=one.verdict,
        rule=rule,
        value=value,
        expanded=expanded,
        unit=required.unit,
        low=required.low,
        high=required.high,
        risk=one.risk,
        words=one.words,
    )


def _figures(value: Measured | None) -> tuple[float | None, float | None]:
    return (None, None) if value is None else (value.value, value.expanded)


def _right(finding: Finding | None) -> bool | None:
    if finding is None:
        return True
    return False if finding.verdict is Verdict.BAD else None
