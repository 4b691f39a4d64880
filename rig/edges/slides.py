"""An edge from slow slides by hand: the output's edge says when, a gauge or a person's eye says where.

Whatever comes late (the unit, the gauge, the hand that is told to stop) makes the edge seem further along the way; the
way is known, so its middle is taken off and its half-width stays as uncertainty. A unit that is passed slowly looks
often, and one look in its favour suffices: that makes the edge seem nearer, and is taken off likewise.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from rig.edges.edge import (
    COVERAGE,
    EdgeFigures,
    Measured,
    Method,
    RepeatAccuracy,
    scale_of_target,
    tilt_of_way,
    zero_of_scale,
)
from rig.edges.lookouts import Early, largest_noise_mm
from rig.edges.sweep import SCATTER, Lag
from rig.edges.task import FEWEST_APPROACHES, FINEST_BENCH_SHARE, EdgeTask
from rig.statistics.uncertainty import Component, combine
from wiring.profile import GaugeProfile, TargetKind, TargetProfile

# From the words on the screen to a hand that moves (common practice, no source).
_BEGIN = Lag(1.15, 0.85)
# A hand halts and hurries: at the edge, where it is on its way, it is faster than in the mean by some share, from
# nothing to twice this (common practice, no source).
_HURRY = 0.1
# So long a hand moves before the edge, and so uncertain is its speed then; for what is told beforehand.
_RUN_UP_S = 5.0
SLIDE_S = 2 * _RUN_UP_S
"""What a slow slide takes, about."""
# A gauge takes its reading somewhere between question and answer, which lie about so far apart.
_QUESTION_S = 0.012
# Over so long to either side of a moment the speed of a hand is taken from its gauge.
_SPEED_OVER_S = 0.25
_LOOKS, _READING, _GAUGE, _GAUGE_STEP = (
    "looks of the unit",
    "reading of the scale",
    "gauge",
    "step of the gauge",
)


@dataclass(frozen=True, slots=True)
class Slide:
    """One slow slide: where the target passed the edge, for all that is late, and how fast it went there.

    `speed_doubt` is the half-width of what is not known of the speed, as a share of it.
    """

    place_mm: float
    speed_mm_s: float
    speed_doubt: float = 0.0


def slide_by_gauge(
    times_s: Sequence[float],
    positions_mm: Sequence[float],
    switched_s: float,
    response_s: float,
    gauge: GaugeProfile,
) -> Slide:
    """A slide that a gauge followed, with rising times, from before the output switched to after it.

    `response_s` is the longest response time by the data sheet.
    """
    passed_s = switched_s - Lag.by_data_sheet(response_s).middle_s + gauge_lag(gauge).middle_s
    before_mm, place_mm, after_mm = (
        _between_readings(times_s, positions_mm, passed_s + off_s)
        for off_s in (-_SPEED_OVER_S, 0.0, _SPEED_OVER_S)
    )
    return Slide(place_mm, abs(after_mm - before_mm) / (2 * _SPEED_OVER_S))


def _between_readings(times_s: Sequence[float], positions_mm: Sequence[float], at_s: float) -> float:
    """The position at a time, on a straight line between two readings; that of the first or last beyond them."""
    after = bisect_left(times_s, at_s)
    if after in (0, len(times_s)):
        return positions_mm[min(after, len(times_s) - 1)]
    before_s, after_s = times_s[after - 1], times_s[after]
    share = (at_s - before_s) / (after_s - before_s)
    return positions_mm[after - 1] + share * (positions_mm[after] - positions_mm[after - 1])


def slide_by_scale(
    start_mm: float, stopped_mm: float, took_s: float, response_s: float, target: TargetProfile
) -> Slide:
    """A slide that a person began at `start_mm` and ended, when told to, at `stopped_mm`.

    `took_s` passed from the request to the switching of the output: the hand's even speed is taken from it.
    """
    stop_s = stopping(target).middle_s
    moved_s = max(took_s - _BEGIN.middle_s, _BEGIN.half_width_s) + stop_s
    speed_mm_s = (1 + _HURRY) * abs(stopped_mm - start_mm) / moved_s
    late_mm = speed_mm_s * (Lag.by_data_sheet(response_s).middle_s + stop_s)
    place_mm = stopped_mm - math.copysign(late_mm, stopped_mm - start_mm)
    return Slide(place_mm, speed_mm_s, _speed_doubt(moved_s))


def gauge_lag(gauge: GaugeProfile) -> Lag:
    """How old a reading of a gauge is."""
    lag = Lag.up_to(gauge.lag_s)
    return Lag(lag.middle_s, lag.half_width_s + _QUESTION_S / 2)


def stopping(target: TargetProfile) -> Lag:
    """How long a hand goes on that is told to stop."""
    hand = target.by_hand
    middle_s = (hand.stop_least_s + hand.stop_most_s) / 2
    return Lag(middle_s, hand.stop_most_s - middle_s)


def method_of(target: TargetProfile) -> Method:
    """What tells where the target is that a person moves."""
    if target.kind is TargetKind.SLOTS:
        return Method.SLOTS
    return Method.SCALE if target.gauge is None else Method.GAUGE


def slides_of(task: EdgeTask) -> int:
    """How many slides an edge takes in both directions, the first two included."""
    return 2 * (1 + max(task.approaches, FEWEST_APPROACHES))


def slid_figures(
    inwards: Sequence[Slide], outwards: Sequence[Slide], task: EdgeTask, target: TargetProfile
) -> EdgeFigures:
    """What slides in both directions come to; two at least in each."""
    scatter = _scatter(inwards, outwards)
    operate = _Direction.of(inwards, -task.outward, task.response_on_s, scatter, task, target)
    release = _Direction.of(outwards, task.outward, task.response_off_s, scatter, task, target)
    travel_mm = abs(release.mean_mm - operate.mean_mm)
    # What is late or early does the same to both points, each along its own way: it counts twice.
    both = [
        Component(one.name, one.contribution + other.contribution)
        for one, other in zip(operate.on_the_way, release.on_the_way, strict=True)
    ]
    rows = (*both, operate.scatter, release.scatter, *_between(target, travel_mm))
    return EdgeFigures(
        operate.point(target),
        release.point(target),
        Measured(travel_mm, combine(rows, coverage=COVERAGE)),
        RepeatAccuracy(operate.places_mm, method_of(target)),
        None,
        None,
    )


def finest_slid_mm(task: EdgeTask, target: TargetProfile) -> float:
    """The finest expanded uncertainty that can be wanted of an edge on a target that a person slides.

    The hand is taken to be as fast as the rig profile allows; some is left to the scatter of the slides.
    """
    speed_mm_s, response_s = target.by_hand.slide_mm_s, max(task.response_on_s, task.response_off_s)
    early = Early.supposed(speed_mm_s * response_s, task.noise_mm)
    rows = (
        *_lateness(target, speed_mm_s, _speed_doubt(_RUN_UP_S), response_s),
        Component(_LOOKS, early.u_mm),
        *_places(target, task.expected_mm),
    )
    return combine(rows, coverage=COVERAGE).expanded / FINEST_BENCH_SHARE


@dataclass(frozen=True, slots=True)
class _Direction:
    """The slides in one direction: the mean of their places, and what makes it uncertain."""

    mean_mm: float
    places_mm: tuple[float, ...]
    scatter: Component
    on_the_way: tuple[Component, ...]

    @classmethod
    def of(
        cls,
        slides: Sequence[Slide],
        way: int,
        response_s: float,
        scatter: Component,
        task: EdgeTask,
        target: TargetProfile,
    ) -> _Direction:
        places_mm = tuple(slide.place_mm for slide in slides)
        speed_mm_s = fmean(slide.speed_mm_s for slide in slides)
        early = _early(scatter, speed_mm_s * response_s, task, target)
        late = _lateness(target, speed_mm_s, fmean(slide.speed_doubt for slide in slides), response_s)
        return cls(
            fmean(places_mm) + way * early.middle_mm,
            places_mm,
            Component(
                SCATTER,
                scatter.standard_uncertainty,
                1 / math.sqrt(len(slides)),
                scatter.degrees_of_freedom,
            ),
            (*late, Component(_LOOKS, early.u_mm)),
        )

    def point(self, target: TargetProfile) -> Measured:
        rows = (self.scatter, *self.on_the_way, *_places(target, self.mean_mm))
        return Measured(self.mean_mm, combine(rows, coverage=COVERAGE))


def _scatter(inwards: Sequence[Slide], outwards: Sequence[Slide]) -> Component:
    """How slides scatter about the mean of their direction: one standard deviation from both."""
    off_mm = [
        slide.place_mm - fmean(one.place_mm for one in slides)
        for slides in (inwards, outwards)
        for slide in slides
    ]
    freedom = len(off_mm) - 2
    return Component(SCATTER, math.sqrt(math.fsum(one * one for one in off_mm) / freedom), 1.0, freedom)


def _early(scatter: Component, way_mm: float, task: EdgeTask, target: TargetProfile) -> Early:
    if target.gauge is None:
        # A hand and an eye scatter too: the unit may be quieter than what is seen, but no noisier.
        least_mm, largest_mm = task.noise_mm
        seen_mm = largest_noise_mm(way_mm, scatter.standard_uncertainty)
        return Early.supposed(way_mm, (least_mm, max(least_mm, min(largest_mm, seen_mm))))
    least_mm = max(target.gauge.resolution_mm / math.sqrt(12), task.noise_mm[0] / 2)
    freedom = round(scatter.degrees_of_freedom)
    return Early.seen(way_mm, max(scatter.standard_uncertainty, least_mm), freedom)


def _lateness(
    target: TargetProfile, speed_mm_s: float, speed_doubt: float, response_s: float
) -> tuple[Component, ...]:
    response = Lag.by_data_sheet(response_s)
    own = Component.from_half_width("response time", response.half_width_s, sensitivity=speed_mm_s)
    if target.gauge is not None:
        lag_s = gauge_lag(target.gauge).half_width_s
        return own, Component.from_half_width("lag of the gauge", lag_s, sensitivity=speed_mm_s)
    stop = stopping(target)
    late_mm = speed_mm_s * (response.middle_s + stop.middle_s)
    return (
        own,
        Component.from_half_width("stopping of the hand", stop.half_width_s, sensitivity=speed_mm_s),
        Component.from_half_width("speed of the slide", speed_doubt * late_mm),
    )


def _speed_doubt(moved_s: float) -> float:
    return _BEGIN.half_width_s / moved_s + _HURRY


def _places(target: TargetProfile, position_mm: float) -> tuple[Component, ...]:
    """What makes any place uncertain that is told."""
    told = _told(target)
    scale = () if target.gauge is not None else (scale_of_target(target, position_mm),)
    return (zero_of_scale(target), *scale, *told, tilt_of_way(target, position_mm))


def _between(target: TargetProfile, distance_mm: float) -> tuple[Component, ...]:
    """What makes the distance of two told places uncertain: zero and tilt are the same in both."""
    scale = () if target.gauge is not None else (scale_of_target(target, distance_mm),)
    return (*_told(target), *scale)


def _told(target: TargetProfile) -> tuple[Component, ...]:
    if target.gauge is None:
        return (Component.from_half_width(_READING, target.by_hand.reading_mm),)
    return (
        Component.from_half_width(_GAUGE, target.gauge.error_mm),
        Component.from_resolution(_GAUGE_STEP, target.gauge.resolution_mm),
    )
