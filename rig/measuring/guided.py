"""One edge by hand: slow slides across it in both directions, until they agree on it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median

from rig.edges.edge import EdgeFigures
from rig.edges.slides import Slide, slid_figures, slide_by_gauge, slide_by_scale
from rig.edges.task import FEWEST_APPROACHES, EdgeTask
from rig.events import EdgeSlid
from rig.measuring.hands import Hands
from rig.measuring.port import Port
from rig.measuring.trouble import NotMeasured, Trouble
from wiring.saying import say

# Slides that do not count are made again, this often for one edge.
_MOST_FLAWS = 6
# The first slide begins so far outside the place where the edge should be.
_OUTSIDE_SHARE, _OUTSIDE_TRAVELS = 0.03, 2.0
# A slide begins and ends so long before and after the edge, at the largest speed of a slow one.
_RUN_UP_S = 3.0
_CLEAR_MM = 2.0
# A hand is uneven; a slide this much faster than is allowed does not count.
_TOO_FAST = 1.3
# Where the target was placed, and where a slide ends, a gauge must show it within so much, beside what is stated.
_GAUGE_SPARE_MM = 3.0
# Nobody holds still for so long on either side of the moment at which the output changes, to within so much.
_STILL_BEFORE_S, _STILL_AFTER_S, _STILL_MM = 1.0, 0.4, 0.1
# Before its edge a target has gone this far.
_LEAST_WAY_MM = 1.0
# So many deviations from the middle of all, a slide does not speak of the same edge.
_APART = 5.0


@dataclass(frozen=True, slots=True)
class Flaw:
    """Why a slide does not count; `words` say it to whoever slides next."""

    trouble: Trouble
    words: str


class EdgeByHand:
    """One edge on its way to its figures, on a target along a scale."""

    def __init__(self, port: Port, hands: Hands, task: EdgeTask) -> None:
        self._port = port
        self._hands = hands
        self._task = task
        self._target = port.setup.target
        self._run_up_mm = _RUN_UP_S * self._target.by_hand.slide_mm_s + _CLEAR_MM
        self._flaws: list[Flaw] = []
        self._slides: dict[bool, list[Slide]] = {True: [], False: []}
        self._at_mm: float | None = None

    async def measure(self) -> EdgeFigures:
        """Prove the zone, find the edge roughly, then slide across it again and again; raises NotMeasured."""
        await self._hands.prove_zone(self._task.inside_mm)
        self._operate_mm = (await self._first_in()).place_mm
        self._release_mm = (await self._first_out()).place_mm
        return await self.slide_on(max(self._task.approaches, FEWEST_APPROACHES))

    async def slide_on(self, times: int) -> EdgeFigures:
        """Make so many more slides in each direction that agree with the others; raises NotMeasured."""
        wanted = len(self._slides[True]) + times
        outward = self._task.outward
        inside_mm = self._held(self._operate_mm - outward * self._run_up_mm)
        outside_mm = self._within_reach(self._release_mm + outward * self._run_up_mm)
        while min(len(slides) for slides in self._slides.values()) < wanted:
            for detected, ends_mm in ((True, (outside_mm, inside_mm)), (False, (inside_mm, outside_mm))):
                if len(self._slides[detected]) < wanted:
                    self._slides[detected].append(await self._across(*ends_mm, detected=detected))
            for detected, slides in self._slides.items():
                self._slides[detected] = self._agreeing(slides)
        return slid_figures(self._slides[True], self._slides[False], self._task, self._target)

    # -- the first slide in each direction -------------------------------------------------------------------

    async def _first_in(self) -> Slide:
        expected_mm, outward = self._task.expected_mm, self._task.outward
        beyond_mm = (
            _OUTSIDE_TRAVELS * self._task.hysteresis_mm + _OUTSIDE_SHARE * expected_mm + self._run_up_mm
        )
        near_mm = self._within_reach(expected_mm + outward * beyond_mm)
        await self._hands.clear()
        for start_mm in (near_mm, self._task.outside_mm):
            if not await self._hands.arrive("slide", start_mm):
                self._at_mm = start_mm
                return await self._across(start_mm, self._task.inside_mm, detected=True, first=True)
        raise NotMeasured(
            Trouble.BEYOND_REACH,
            say("the unit detects the target at {start_mm:.0f} mm, where it should not", start_mm=start_mm),
        )

    async def _first_out(self) -> Slide:
        start_mm = self._held(self._operate_mm - self._task.outward * self._run_up_mm)
        reach_mm = self._task.release_reach_mm(self._operate_mm)
        end_mm = self._within_reach(self._operate_mm + self._task.outward * max(reach_mm, self._run_up_mm))
        return await self._across(start_mm, end_mm, detected=False, first=True)

    # -- one slide -------------------------------------------------------------------------------------------

    async def _across(self, start_mm: float, end_mm: float, *, detected: bool, first: bool = False) -> Slide:
        """Slide until a slide counts; raises NotMeasured when too many do not."""
        hint = ""
        while True:
            outcome = await self._once(start_mm, end_mm, detected=detected, first=first, hint=hint)
            if isinstance(outcome, Slide):
                return outcome
            self._note_flaw(outcome)
            hint = say("Once more: {words}. ", words=outcome.words)

    async def _once(
        self, start_mm: float, end_mm: float, *, detected: bool, first: bool, hint: str
    ) -> Slide | Flaw:
        stands_mm = start_mm if self._at_mm is None else self._at_mm
        if self._stands_before(start_mm, end_mm):
            seen = await self._hands.sees(stands_mm)
        else:
            stands_mm, seen = start_mm, await self._hands.arrive("slide", start_mm)
        self._at_mm = None
        if seen is detected:
            state = "detects" if detected else "does not detect"
            where = say(
                "the unit {state} the target at {start_mm:.0f} mm, before it was slid",
                state=state,
                start_mm=start_mm,
            )
            return Flaw(Trouble.CHANGES_ITS_MIND, where)
        slid = await self._port.slide(start_mm, end_mm, detected=detected, stop_at_edge=first, hint=hint)
        self._hands.count_slide()
        flaw = self._flaw_of(slid, stands_mm, to_end=not first)
        if flaw is not None or slid.switched_s is None:
            return flaw or Flaw(Trouble.EDGE_MISSED, "the output did not change")
        if slid.track:
            self._at_mm = slid.track[-1][1]
        slide = self._slide_of(slid, slid.switched_s)
        if not first and slide.speed_mm_s > _TOO_FAST * self._target.by_hand.slide_mm_s:
            return Flaw(
                Trouble.TOO_FAST,
                say("{speed_mm_s:.0f} mm a second were too fast", speed_mm_s=slide.speed_mm_s),
            )
        return slide

    def _slide_of(self, slid: EdgeSlid, switched_s: float) -> Slide:
        response_s = self._task.response_on_s if slid.detected else self._task.response_off_s
        if slid.told_mm is not None:
            return slide_by_scale(slid.start_mm, slid.told_mm, switched_s, response_s, self._target)
        assert self._target.gauge is not None, "without a number there is a gauge"
        times_s, positions_mm = ([row[column] for row in slid.track] for column in (0, 1))
        return slide_by_gauge(times_s, positions_mm, switched_s, response_s, self._target.gauge)

    def _flaw_of(self, slid: EdgeSlid, stands_mm: float, *, to_end: bool) -> Flaw | None:
        if slid.fault:
            return Flaw(Trouble.GAUGE_SILENT, slid.fault)
        if self._target.gauge is not None and (stuck := self._stuck(slid, stands_mm, to_end)):
            return Flaw(Trouble.GAUGE_STUCK, stuck)
        if slid.changes == 0:
            between = say(
                "between {start_mm:.0f} and {end_mm:.0f} mm", start_mm=slid.start_mm, end_mm=slid.end_mm
            )
            return Flaw(Trouble.EDGE_MISSED, say("the output did not change {between}", between=between))
        if slid.switched_s is None:
            return Flaw(
                Trouble.OUTPUT_CHATTERS,
                say("the output changed {changes} times in one slide", changes=slid.changes),
            )
        return None

    def _stuck(self, slid: EdgeSlid, stands_mm: float, to_end: bool) -> str:
        """How the gauge shows that it does not follow the target; empty when it may well do."""
        if len(slid.track) < 2:
            return "the gauge told nothing"
        shown_mm, last_mm = slid.track[0][1], slid.track[-1][1]
        if abs(shown_mm - stands_mm) > self._near_mm:
            return say(
                "the gauge shows {shown_mm:.1f} mm for a target at {stands_mm:.1f} mm",
                shown_mm=shown_mm,
                stands_mm=stands_mm,
            )
        if abs(last_mm - shown_mm) < _LEAST_WAY_MM:
            return say("the gauge stands at {last_mm:.1f} mm", last_mm=last_mm)
        if slid.switched_s is not None and _stood_still(slid.track, slid.switched_s):
            return say("the gauge stood still at {last_mm:.1f} mm while the output changed", last_mm=last_mm)
        short_mm = (
            abs(last_mm - slid.end_mm) if (last_mm < slid.end_mm) is (slid.end_mm > slid.start_mm) else 0
        )
        if to_end and short_mm > self._near_mm:
            return say(
                "the gauge shows {last_mm:.1f} mm for a target that was slid to {end_mm:.1f} mm",
                last_mm=last_mm,
                end_mm=slid.end_mm,
            )
        return ""

    # -- bookkeeping -----------------------------------------------------------------------------------------

    def _note_flaw(self, flaw: Flaw) -> None:
        self._flaws.append(flaw)
        if len(self._flaws) > _MOST_FLAWS:
            raise NotMeasured(
                flaw.trouble,
                say(
                    "{count} slides do not count, the last because {words}",
                    count=len(self._flaws),
                    words=flaw.words,
                ),
            )

    def _agreeing(self, slides: list[Slide]) -> list[Slide]:
        """The slides without those that cannot speak of the same edge, which are made again."""
        if len(slides) < FEWEST_APPROACHES:
            return slides
        middle_mm = median(slide.place_mm for slide in slides)
        agreeing = [slide for slide in slides if abs(slide.place_mm - middle_mm) <= self._apart_mm]
        for slide in slides:
            if slide not in agreeing:
                words = say(
                    "one at {place_mm:.1f} mm does not agree with the others about {middle_mm:.1f} mm",
                    place_mm=slide.place_mm,
                    middle_mm=middle_mm,
                )
                self._note_flaw(Flaw(Trouble.SLIDES_DISAGREE, words))
        return agreeing

    @property
    def _apart_mm(self) -> float:
        own_mm, hand = self._task.noise_mm[1], self._target.by_hand
        if self._target.gauge is not None:
            return _APART * own_mm
        stopping_mm = hand.slide_mm_s * (hand.stop_most_s - hand.stop_least_s) / 2
        return _APART * math.hypot(own_mm, *(one / math.sqrt(3) for one in (hand.reading_mm, stopping_mm)))

    @property
    def _near_mm(self) -> float:
        target = self._target
        error_mm = 0.0 if target.gauge is None else target.gauge.error_mm
        return 2 * target.placement_mm + target.zero_doubt_mm + error_mm + _GAUGE_SPARE_MM

    def _stands_before(self, start_mm: float, end_mm: float) -> bool:
        """Whether a gauge has shown the target at the start of a slide, or further from the edge."""
        if self._at_mm is None:
            return False
        away = 1 if start_mm > end_mm else -1
        beyond_mm = (self._at_mm - start_mm) * away
        return -self._near_mm / 2 <= beyond_mm <= self._run_up_mm

    def _within_reach(self, position_mm: float) -> float:
        return min(max(position_mm, self._target.nearest_mm), self._target.farthest_mm)

    def _held(self, position_mm: float) -> float:
        """A position at which the unit surely detects: not beyond the place that was tried."""
        nearer = (position_mm - self._task.inside_mm) * self._task.outward > 0
        return self._within_reach(position_mm if nearer else self._task.inside_mm)


def _stood_still(track: list[list[float]], at_s: float) -> bool:
    about_mm = [at_mm for when_s, at_mm in track if -_STILL_BEFORE_S <= when_s - at_s <= _STILL_AFTER_S]
    return bool(about_mm) and max(about_mm) - min(about_mm) < _STILL_MM
