"""What is to be measured: one edge, where it may lie, and how certain the answer has to be."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from rig.edges.edge import COVERAGE, Edge, Method, bench_components
from rig.edges.sweep import sweep_standard_uncertainty_mm
from rig.statistics.edge_checks import DetectedSide
from rig.statistics.uncertainty import combine, coverage_factor
from sequences.datasheet import Sensing
from sequences.order import Setting
from sequences.sensor_type import SensorType
from sequences.words import SetPoint
from wiring.profile import TargetProfile

# A unit may be set beyond its range; further than this it hears nothing (common practice, no source).
_BEYOND_RANGE = 1.5
# Differential travel is at most 20 % of the operate point (IEC 60947-5-2, from memory).
_LARGEST_TRAVEL = 0.2
# Repeat accuracy spans some five standard deviations of a look, and hysteresis ten, or the output would chatter
# (common practice, no source). A unit may be three times quieter than that, or twice as noisy.
_NOISE_PER_REPEAT, _NOISE_PER_HYSTERESIS = 0.2, 0.1
_QUIETER, _NOISIER = 1 / 3, 2.0
FEWEST_APPROACHES = 3
"""Fewer tell nothing of how the operate point scatters, with one kept for the end."""

# The bench's own share must leave this much of the wanted uncertainty to the finding, or the search never ends.
_LEAST_SHARE = 0.5
FINEST_BENCH_SHARE = math.sqrt(1 - _LEAST_SHARE**2)
"""Share of the bench itself in the finest uncertainty that it can measure with."""


class TooFine(ValueError):
    """The bench cannot measure as finely as wanted; `smallest_mm` is the finest expanded uncertainty it can."""

    def __init__(self, wanted_mm: float, smallest_mm: float) -> None:
        self.smallest_mm = smallest_mm
        super().__init__(
            f"an expanded uncertainty of {wanted_mm:g} mm is finer than this bench can measure; "
            f"allowed: {smallest_mm:.3g} mm or more"
        )


class NoDrive(ValueError):
    """The target is moved by hand: nothing can be measured that takes dozens of positions."""


def finest_uncertainty_mm(target: TargetProfile, position_mm: float) -> float:
    """The finest expanded uncertainty (95 %) with which an edge at a position can be measured."""
    return combine(bench_components(target, position_mm), coverage=COVERAGE).expanded / FINEST_BENCH_SHARE


@dataclass(frozen=True, slots=True)
class EdgeTask:
    """One edge to be measured. Distances from the sensing face.

    Attributes:
        side: on which side of the edge the unit detects.
        expected_mm: where the edge should be; what the bench adds to the uncertainty is judged there.
        low_mm, high_mm: the operate point is looked for between these; at one of them, the one on the side that
            the unit detects, a sound unit surely does.
        wanted_mm: expanded uncertainty (95 %) asked for, the bench's own share included.
        noise_mm: least and largest standard deviation of one look of the unit.
        hysteresis_mm: usual differential travel.
        response_on_s, response_off_s: longest response times by the data sheet.
        method: how to find the edge; None takes the sweep where it is fine enough, else steps.
        approaches: how often the operate point is found again for the repeat accuracy, and how many passes
            are made in each direction; none with 0, but for a sweep, which needs some.
        edge: which end of the zone it is; told from the side where left out.

    """

    side: DetectedSide
    expected_mm: float
    low_mm: float
    high_mm: float
    wanted_mm: float
    noise_mm: tuple[float, float]
    hysteresis_mm: float
    response_on_s: float
    response_off_s: float
    method: Method | None = None
    approaches: int = 5
    edge: Edge | None = None

    def __post_init__(self) -> None:
        if not self.low_mm < self.high_mm:
            raise ValueError(f"interval {self.low_mm:g} to {self.high_mm:g} mm; allowed: rising")
        if self.approaches < 0 or 0 < self.approaches < FEWEST_APPROACHES:
            raise ValueError(
                f"{self.approaches} approach(es); allowed: none, or {FEWEST_APPROACHES} and more"
            )

    @property
    def called(self) -> Edge:
        """Which end of the zone it is."""
        return self.edge or (Edge.OUTER if self.side is DetectedSide.NEARER else Edge.INNER)

    @property
    def response_s(self) -> float:
        """The longer of the two response times."""
        return max(self.response_on_s, self.response_off_s)

    @property
    def outward(self) -> int:
        """Direction out of the zone: 1 away from the face, -1 towards it."""
        return 1 if self.side is DetectedSide.NEARER else -1

    @property
    def inside_mm(self) -> float:
        """The end of the interval on which the unit detects."""
        return self.low_mm if self.side is DetectedSide.NEARER else self.high_mm

    @property
    def outside_mm(self) -> float:
        """The end of the interval on which the unit does not detect."""
        return self.high_mm if self.side is DetectedSide.NEARER else self.low_mm

    def release_reach_mm(self, operate_mm: float) -> float:
        """How far beyond the operate point the release point is looked for."""
        return max(_LARGEST_TRAVEL * operate_mm, 10 * self.hysteresis_mm)

    def finding_mm(self, target: TargetProfile) -> float:
        """The half-width that the readings may leave, so that the bench's share is within what is wanted.

        Raises TooFine when the bench leaves too little.
        """
        finest_mm = finest_uncertainty_mm(target, self.expected_mm)
        if finest_mm > self.wanted_mm:
            raise TooFine(self.wanted_mm, finest_mm)
        bench_mm = finest_mm * FINEST_BENCH_SHARE
        return math.sqrt(self.wanted_mm**2 - bench_mm**2)

    def method_on(self, target: TargetProfile) -> Method:
        """Which method is used on a target: the one asked for, or the quickest that is fine enough.

        Raises NoDrive for a target without a drive.
        """
        if target.speed_mm_s is None:
            raise NoDrive("edges are measured with a target drive; this rig's target is moved by hand")
        if self.method is not None:
            return self.method
        sweep_u_mm = sweep_standard_uncertainty_mm(target.speed_mm_s, self.response_s)
        sweep_mm = coverage_factor(COVERAGE) * sweep_u_mm
        return Method.SWEEP if sweep_mm <= self.finding_mm(target) / math.sqrt(2) else Method.STEPS


def edge_tasks(
    setting: Setting, sensor_type: SensorType, target: TargetProfile, *, wanted_mm: float
) -> tuple[EdgeTask, ...]:
    """The edges that a setting gives a unit, the outer one first, each looked for wherever it may have ended up.

    The end of the blind zone is none: the standard promises nothing there. Raises TooFine.
    """
    tasks = tasks_for(setting, sensor_type, target, wanted_mm=wanted_mm)
    for task in tasks:
        task.finding_mm(target)
    return tasks


def tasks_for(
    setting: Setting, sensor_type: SensorType, target: TargetProfile, *, wanted_mm: float
) -> tuple[EdgeTask, ...]:
    """The same edges, whether the bench can measure them so finely or not."""
    points_mm = setting.set_points_mm
    sensing = sensor_type.sensing
    start_mm = points_mm.get(SetPoint.NEAR, sensing.blind_zone_mm)
    end_mm = points_mm.get(SetPoint.ONLY, points_mm.get(SetPoint.FAR, sensing.range_mm))
    inside_mm = (max(start_mm, target.nearest_mm) + min(end_mm, target.farthest_mm)) / 2
    outer_mm = min(target.farthest_mm, _BEYOND_RANGE * sensing.range_mm)
    tasks = [edge_task(DetectedSide.NEARER, (inside_mm, outer_mm), end_mm, sensor_type, wanted_mm)]
    if SetPoint.NEAR in points_mm:
        inner_mm = max(target.nearest_mm, sensing.blind_zone_mm)
        tasks.append(edge_task(DetectedSide.FARTHER, (inner_mm, inside_mm), start_mm, sensor_type, wanted_mm))
    return tuple(tasks)


def blind_end_task(
    sensor_type: SensorType, target: TargetProfile, inside_mm: float, *, wanted_mm: float
) -> EdgeTask:
    """The end of the blind zone of a unit that detects from there on, and surely at `inside_mm`.

    The standard promises nothing within a blind zone: what is found there holds for this target in this place.
    Raises TooFine.
    """
    end_mm = sensor_type.sensing.blind_zone_mm
    ends_mm = (max(target.nearest_mm, end_mm / 4), inside_mm)
    task = edge_task(DetectedSide.FARTHER, ends_mm, end_mm, sensor_type, wanted_mm)
    task = replace(task, edge=Edge.BLIND, approaches=0)
    task.finding_mm(target)
    return task


def edge_task(
    side: DetectedSide,
    ends_mm: tuple[float, float],
    edge_mm: float,
    sensor_type: SensorType,
    wanted_mm: float,
) -> EdgeTask:
    """One edge of a unit of a type, thought to be at `edge_mm`, the operate point looked for between two ends."""
    return EdgeTask(
        side=side,
        expected_mm=edge_mm,
        low_mm=ends_mm[0],
        high_mm=ends_mm[1],
        wanted_mm=wanted_mm,
        noise_mm=_noise_mm(sensor_type.sensing, edge_mm),
        hysteresis_mm=sensor_type.sensing.hysteresis_mm(edge_mm),
        response_on_s=sensor_type.timing.response_on_s,
        response_off_s=sensor_type.timing.response_off_s,
    )


def _noise_mm(sensing: Sensing, edge_mm: float) -> tuple[float, float]:
    repeat_mm = sensing.repeat_accuracy_percent / 100 * edge_mm
    usual_mm = max(_NOISE_PER_REPEAT * repeat_mm, _NOISE_PER_HYSTERESIS * sensing.hysteresis_min_mm)
    return _QUIETER * usual_mm, _NOISIER * usual_mm
