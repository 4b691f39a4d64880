"""Measures one edge of the unit in the nest: operate and release point, repeat accuracy, response times."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from rig.edges.edge import EdgeFigures, EdgeResult, Effort, Measured, Method
from rig.edges.finest import BY_HAND, way_of_measuring
from rig.edges.task import FEWEST_APPROACHES, EdgeTask
from rig.events import EdgeBegun, EdgeMeasured
from rig.measuring.bench_port import BenchPort
from rig.measuring.by_steps import EdgeBySteps
from rig.measuring.by_sweep import edge_by_sweep
from rig.measuring.guided import EdgeByHand
from rig.measuring.guided_slots import EdgeBySlots
from rig.measuring.hands import Hands, settle_s, watch_s
from rig.measuring.port import Port
from rig.sequencer.work import Work

# A record shows far less than can be told, and hides the last digits, in which computers differ.
_DIGITS = {"mm": 6, "s": 9}


def port_on(work: Work, response_s: float) -> BenchPort:
    """The bench as it is read for the edges of a unit with that response time."""
    return BenchPort(work, settle_s=settle_s(response_s), watch_s=watch_s(response_s))


class EdgeMeasurement:
    """One edge, measured and then, where that may decide something, measured on.

    Raises TooFine and NoDrive where the bench cannot do it so finely, or not at all; nothing has moved then.
    """

    def __init__(self, port: Port, task: EdgeTask) -> None:
        target = port.setup.target
        self.task = task
        self._port = port
        self._method = way_of_measuring(task, target)
        self._hands = Hands(port, task)
        if self._method in BY_HAND:
            by_slots = self._method is Method.SLOTS
            self._slides = (EdgeBySlots if by_slots else EdgeByHand)(port, self._hands, task)
        else:
            self._steps = EdgeBySteps(self._hands, task, target, task.finding_mm(target))
        self._seconds = 0.0

    @property
    def by_steps(self) -> bool:
        """Whether the edge was found step by step."""
        return self._method is Method.STEPS

    async def measure(self) -> EdgeResult:
        """Measure it; the unit is powered and available, the bench armed.

        Raises:
            NotMeasured: when the unit, or what stands in the beam, makes it impossible; with what to look at.
            InstrumentError, Tripped: when the bench fails.

        """
        start_s = self._begin()
        if self._method in BY_HAND:
            return self._end(await self._slides.measure(), start_s)
        await self._hands.prove_zone(self.task.inside_mm)
        if self._method is Method.SWEEP:
            figures = await edge_by_sweep(self._hands, self.task, self._port.setup.target)
        else:
            figures = await self._steps.measure()
        return self._end(figures, start_s)

    async def refine(self, wanted_mm: float) -> EdgeResult:
        """Measure on to a smaller expanded uncertainty, step by step or by more slides; raises as `measure`."""
        if self._method in BY_HAND:
            self.task = replace(self.task, wanted_mm=wanted_mm)
            start_s = self._begin()
            return self._end(await self._slides.slide_on(FEWEST_APPROACHES), start_s)
        self.task, before = replace(self.task, wanted_mm=wanted_mm, method=Method.STEPS), self._method
        self._method = Method.STEPS
        start_s, finding_mm = self._begin(), self.task.finding_mm(self._port.setup.target)
        if before is Method.SWEEP:
            self._steps = EdgeBySteps(self._hands, self.task, self._port.setup.target, finding_mm)
            return self._end(await self._steps.measure(), start_s)
        return self._end(await self._steps.refine(finding_mm), start_s)

    async def pass_by(self, times: int) -> EdgeResult:
        """Make more passes for the response times; raises what `measure` raises."""
        start_s = self._begin()
        return self._end(await self._steps.pass_by(times), start_s)

    def _begin(self) -> float:
        self._port.note(EdgeBegun(str(self.task.called), str(self._method), self.task.wanted_mm))
        return self._port.time_s()

    def _end(self, figures: EdgeFigures, start_s: float) -> EdgeResult:
        self._seconds += self._port.time_s() - start_s
        effort = Effort(self._method, self._hands.readings, self._hands.moves, self._seconds)
        result = EdgeResult(self.task.side, self.task.wanted_mm, figures, effort)
        self._port.note(edge_measured(self.task, result))
        return result


def edge_measured(task: EdgeTask, result: EdgeResult) -> EdgeMeasured:
    """A result as it is recorded."""
    figures, effort = result.figures, result.effort
    on, off, repeat = figures.response_on, figures.response_off, figures.repeat
    return EdgeMeasured(
        edge=str(task.called),
        method=str(effort.method),
        **_told("operate", "mm", figures.operate_mm),
        **_told("release", "mm", figures.release_mm),
        **_told("travel", "mm", figures.travel_mm),
        repeat_mm=None if repeat is None else round(repeat.range_mm, _DIGITS["mm"]),
        **_told("response_on", "s", None if on is None else on.mean_s),
        **_told("response_off", "s", None if off is None else off.mean_s),
        readings=effort.readings,
        moves=effort.moves,
    )


def _told(name: str, unit: str, measured: Measured | None) -> dict[str, Any]:
    value, expanded = (None, None) if measured is None else (measured.value, measured.expanded)
    told = {f"{name}_{unit}": value, f"{name}_u_{unit}": expanded}
    return {key: None if one is None else round(one, _DIGITS[unit]) for key, one in told.items()}
