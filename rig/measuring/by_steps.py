"""One edge step by step: search, approaches again, search for the way back, passes for the response times."""

from __future__ import annotations

import math
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from itertools import chain

import numpy as np

from rig.edges.edge import (
    EdgeFigures,
    Measured,
    Method,
    RepeatAccuracy,
    ResponseTime,
    finding,
    measured_point,
    response_time,
)
from rig.edges.looks import first_of, largest_step_mm, looks_in, noise_seen, suppose_spreads
from rig.edges.posterior import EdgeModel, Posterior, Reading, Spread
from rig.edges.search import MOST_READINGS, Pace, Rules, Stop, next_step
from rig.edges.sweep import Pass, swept_response
from rig.edges.task import EdgeTask
from rig.measuring.found import CLEAR_MM, Found, demand_quiet, found_by
from rig.measuring.hands import Hands
from rig.measuring.trouble import NotMeasured, Trouble
from wiring.profile import TargetProfile
from wiring.saying import say

# How they scatter can be told of two.
_FEWEST_PASSES = 2
# An approach that is repeated begins this many spreads before the place where the output switches.
_FIRST = 4.0
# A noisier unit than was thought has switched there already; then from so much further out.
_WIDER = (1.0, 2.0, 4.0)
# A unit whose edge has moved by this many of the largest scatters of a sound one has changed its mind.
_STEP = 4.0
# So many half-widths off a first estimate a point may still belong to it.
_OFF_THE_ESTIMATE = 1.5
# The chance that the edge lies beyond a seat outside: each seat is tried before it is trusted.
_SEAT_DOUBT = 0.002

_Read = Callable[[float, Pace], Awaitable[bool | None]]


class EdgeBySteps:
    """One edge on its way to its figures; a search stops at the half-width `finding_mm`."""

    def __init__(self, hands: Hands, task: EdgeTask, target: TargetProfile, finding_mm: float) -> None:
        self.hands = hands
        self.task = task
        self.target = target
        self.finding_mm = finding_mm
        self._approaches: list[list[Reading]] = []
        self._passes: dict[bool, list[Pass]] = {True: [], False: []}

    async def measure(self) -> EdgeFigures:
        """Return what was found; raises NotMeasured."""
        self._operate = await self.find_operate()
        if self.task.approaches:
            for _ in range(self.task.approaches - 1):
                self._approaches.append(await self._once_more(self._operate))
            self._demand_one_mind(self._operate, self._approaches)
            self._operate = await self._learn(self._operate, self._approaches)
        self._release = await self._find_release(self._operate)
        if self.task.approaches:
            self._approaches.append(await self._as_before(self._operate))
            await self.pass_by(self.task.approaches)
        return self.figures()

    async def refine(self, finding_mm: float) -> EdgeFigures:
        """Search on, with all that is known, down to a smaller half-width; raises NotMeasured."""
        self.finding_mm = finding_mm
        self._operate = await self._search_operate(self._operate.belief)
        self._release = await self._search_release(self._operate, self._release.belief)
        if self.task.approaches:
            await self._as_before(self._operate)
        return self.figures()

    async def pass_by(self, times: int) -> EdgeFigures:
        """Pass by in both directions, for the response times; raises NotMeasured."""
        for detected in (True, False):
            self._passes[detected] += await self._pass(times, detected=detected)
        return self.figures()

    def figures(self) -> EdgeFigures:
        """What all readings so far come to; raises NotMeasured for an output that cannot keep still."""
        operate_mm, release_mm = self._point(self._operate), self._point(self._release)
        repeat = RepeatAccuracy(_points_mm(self._approaches), Method.STEPS) if self._approaches else None
        on, off = self._response(operate_mm, detected=True), self._response(release_mm, detected=False)
        doubt_mm = self._operate.belief.early_doubt_mm()
        figures = EdgeFigures.of(operate_mm, release_mm, self.target, repeat, on, off, doubt_mm)
        demand_quiet(self._operate.spread, figures.travel_mm)
        return figures

    # -- the two searches ------------------------------------------------------------------------------------

    async def find_operate(self) -> Found:
        """Search for the operate point of a unit that is taken for a sound one; raises NotMeasured."""
        spreads = suppose_spreads(self.task.noise_mm, looks=self._looks, placement_mm=self._placement_mm)
        ends_mm = (self.task.low_mm, self.task.high_mm)
        return await self._search_operate(Posterior.start(self._model(ends_mm, spreads, detected=True)))

    async def _learn(self, operate: Found, approaches: Sequence[Sequence[Reading]]) -> Found:
        """Take the unit's noise from its repeated approaches, which count as readings too, and search on."""
        least_mm = max(self.task.noise_mm[0], self.target.resolution_mm / math.sqrt(12))
        noise_mm = noise_seen(_points_mm(approaches), looks=self._looks, least_mm=least_mm)
        spreads = suppose_spreads(noise_mm, looks=self._looks, placement_mm=self._placement_mm)
        model = replace(operate.belief.model, spreads=spreads)
        belief = operate.belief.under(model, chain.from_iterable(approaches))
        return await self._search_operate(belief)

    async def _search_operate(self, belief: Posterior) -> Found:
        def pace(belief: Posterior) -> Pace:
            return self.hands.pace(self._seat_outside_mm(belief), may_swing=True)

        return await self._search("operate point", belief, pace, self.hands.operates_at)

    async def _find_release(self, operate: Found) -> Found:
        estimate = operate.estimate
        first_mm = estimate.position_mm - self.task.outward * estimate.half_width_mm
        ends_mm = (first_mm, self.beyond_any_release_mm(operate))
        model = self._model(ends_mm, operate.belief.weighed_spreads(), detected=False)
        return await self._search_release(operate, Posterior.start(model))

    async def _search_release(self, operate: Found, belief: Posterior) -> Found:
        pace = self.hands.pace(self.seat_inside_mm(operate), may_swing=False)
        return await self._search("release point", belief, lambda _: pace, self.hands.releases_at)

    def _model(
        self, ends_mm: tuple[float, float], spreads: tuple[Spread, ...], *, detected: bool
    ) -> EdgeModel:
        low_mm, high_mm = sorted(ends_mm)
        return EdgeModel(low_mm, high_mm, rising=detected is (self.task.outward < 0), spreads=spreads)

    @property
    def _looks(self) -> float:
        return looks_in(self.hands.exposure_s, self.task.response_s)

    @property
    def _placement_mm(self) -> float:
        return self.target.placement_mm / math.sqrt(3)

    async def _search(
        self, what: str, belief: Posterior, pace: Callable[[Posterior], Pace], read: _Read
    ) -> Found:
        most = len(belief.readings) + MOST_READINGS
        if not belief.readings and self.task.approaches:
            most = MOST_READINGS // 2  # the approaches tell more, and the search goes on after them
        while True:
            rules = Rules(self.finding_mm, pace(belief), self.target.resolution_mm, most_readings=most)
            step = next_step(belief, rules, self.hands.at_mm)
            if isinstance(step, Stop):
                return found_by(what, belief, step)
            switched = await read(step.position_mm, rules.pace)
            if switched is not None:
                belief = belief.after(Reading(step.position_mm, switched))

    # -- seats -----------------------------------------------------------------------------------------------

    def _seat_outside_mm(self, belief: Posterior) -> float:
        share = 1 - _SEAT_DOUBT if self.task.outward > 0 else _SEAT_DOUBT
        edge_mm = float(belief.quantiles_mm(np.array([share]))[0])
        seat_mm = edge_mm + self.task.outward * (2 * self.task.hysteresis_mm + CLEAR_MM)
        return min(max(seat_mm, self.task.low_mm), self.task.high_mm)

    def seat_inside_mm(self, operate: Found) -> float:
        """A position near the edge at which the unit surely detects the target."""
        seat_mm = operate.estimate.position_mm - self.task.outward * operate.margin_mm
        nearer = (seat_mm - self.task.inside_mm) * self.task.outward > 0
        return seat_mm if nearer else self.task.inside_mm

    def beyond_any_release_mm(self, operate: Found) -> float:
        """A position at which every unit has let go of the target, as far as the target reaches."""
        edge_mm = operate.estimate.position_mm
        return self._within_reach(edge_mm + self.task.outward * self.task.release_reach_mm(edge_mm))

    def _beyond_release_mm(self, release: Found) -> float:
        return self._within_reach(release.estimate.position_mm + self.task.outward * release.margin_mm)

    def _within_reach(self, position_mm: float) -> float:
        return min(max(position_mm, self.target.nearest_mm), self.target.farthest_mm)

    def _point(self, found: Found) -> Measured:
        estimate = found.estimate
        return measured_point(estimate.position_mm, (finding(estimate.half_width_mm),), self.target)

    # -- repeat accuracy and response times ------------------------------------------------------------------

    async def _once_more(self, operate: Found) -> list[Reading]:
        edge_mm, spread, outward = operate.estimate.position_mm, operate.spread, self.task.outward
        pace = self.hands.pace(self.beyond_any_release_mm(operate), may_swing=True)
        first_mm = operate.estimate.half_width_mm + spread.early_mm + _FIRST * spread.sd_mm
        end_mm = edge_mm - outward * operate.margin_mm
        step_mm = max(self.target.resolution_mm, spread.sd_mm / 2)
        for wider in _WIDER:
            start_mm = self._within_reach(edge_mm + outward * wider * first_mm)
            readings = await self.hands.creep(start_mm, end_mm, step_mm, pace)
            if len(readings) > 1 and readings[-1].switched:
                return readings
        raise NotMeasured(
            Trouble.CHANGES_ITS_MIND,
            say(
                "the unit no longer operates between {start_mm:.1f} and {end_mm:.1f} mm, as it did a "
                "moment ago",
                start_mm=start_mm,
                end_mm=end_mm,
            ),
        )

    def _demand_one_mind(self, operate: Found, approaches: Sequence[Sequence[Reading]]) -> None:
        """A unit that has moved its edge between two approaches must not be taken for one that scatters."""
        _, scatter = first_of(self._looks)
        least_mm = _STEP * scatter * self.task.noise_mm[1] + self._placement_mm
        found, points_mm = operate.estimate, _points_mm(approaches)
        strayed_mm = abs(points_mm[0] - found.position_mm) - _OFF_THE_ESTIMATE * found.half_width_mm
        if max(strayed_mm, largest_step_mm(points_mm)) > least_mm:
            seen = ", ".join(f"{at_mm:.1f}" for at_mm in (found.position_mm, *points_mm))
            raise NotMeasured(
                Trouble.CHANGES_ITS_MIND,
                say("the unit does not stay at one operate point: one by one, {seen} mm", seen=seen),
            )

    async def _as_before(self, operate: Found) -> list[Reading]:
        """Approach once more at the end: a unit that has moved its edge meanwhile has two, and neither counts."""
        readings = await self._once_more(operate)
        at_mm, before_mm = readings[-1].position_mm, operate.estimate.position_mm
        if abs(at_mm - before_mm) > operate.margin_mm:
            raise NotMeasured(
                Trouble.CHANGES_ITS_MIND,
                say(
                    "the unit operates at {at_mm:.1f} mm now, and did at {before_mm:.1f} mm before",
                    at_mm=at_mm,
                    before_mm=before_mm,
                ),
            )
        return readings

    def _response(self, edge: Measured, *, detected: bool) -> ResponseTime | None:
        passes = self._passes[detected]
        return response_time(swept_response(passes, edge.value, edge.budget.combined)) if passes else None

    async def _pass(self, times: int, *, detected: bool) -> list[Pass]:
        inside_mm, outside_mm = self.seat_inside_mm(self._operate), self._beyond_release_mm(self._release)
        start_mm, end_mm = (outside_mm, inside_mm) if detected else (inside_mm, outside_mm)
        passes = [
            one
            for _ in range(times)
            if (one := await self.hands.cross(start_mm, end_mm, detected=detected)) is not None
        ]
        if len(passes) < _FEWEST_PASSES:
            raise NotMeasured(
                Trouble.CHANGES_ITS_MIND,
                say(
                    "of {times} passes only {count} changed the output once, between {inside_mm:.1f} and "
                    "{outside_mm:.1f} mm where it has just switched",
                    times=times,
                    count=len(passes),
                    inside_mm=inside_mm,
                    outside_mm=outside_mm,
                ),
            )
        return passes


def _points_mm(approaches: Sequence[Sequence[Reading]]) -> tuple[float, ...]:
    """Where the output switched: an approach ends there."""
    return tuple(readings[-1].position_mm for readings in approaches)
