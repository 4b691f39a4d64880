"""What is told of a measured edge, in the terms of IEC 60947-5-2, each figure with its budget."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Self

from rig.edges.sweep import LATENESS, SCATTER, Swept
from rig.statistics.edge_checks import DetectedSide
from rig.statistics.uncertainty import Budget, Component, combine, coverage_factor
from wiring.profile import TargetProfile

COVERAGE = 0.95
"""Every uncertainty of a measured edge is stated for this coverage."""

FINDING = "finding the edge"
"""The row of a budget that holds what the readings leave open."""
_STEP = "step of the target"
_OF_EACH = (FINDING, SCATTER)


class Edge(StrEnum):
    """One end of the zone in which a unit detects; at `BLIND` the zone begins with the end of the blind zone."""

    OUTER = "outer"
    INNER = "inner"
    BLIND = "blind"


class Method(StrEnum):
    """How an edge was found."""

    STEPS = "step by step"
    SWEEP = "sweep"
    GAUGE = "slid by hand, gauge"
    SCALE = "slid by hand, scale"
    SLOTS = "slot by slot"


@dataclass(frozen=True, slots=True)
class Measured:
    """A value and the budget of its uncertainty, both in the unit that the field's name ends in."""

    value: float
    budget: Budget

    @property
    def expanded(self) -> float:
        """Expanded uncertainty for 95 % coverage."""
        return self.budget.expanded


@dataclass(frozen=True, slots=True)
class RepeatAccuracy:
    """Spread of the operate point under repetition: largest less smallest over some approaches (IEC 60947-5-2).

    The standard asks for eight hours; these approaches follow one another.
    """

    points_mm: tuple[float, ...]
    method: Method

    @property
    def range_mm(self) -> float:
        """Largest less smallest operate point."""
        return max(self.points_mm) - min(self.points_mm)


@dataclass(frozen=True, slots=True)
class ResponseTime:
    """How long after the target passed the edge the output switched: mean and longest of some passes."""

    mean_s: Measured
    longest_s: float
    passes: int


@dataclass(frozen=True, slots=True)
class EdgeFigures:
    """What was found of an edge; made by `of`.

    Attributes:
        operate_mm, release_mm: the edge on approach and on withdrawal: half of the unit's single looks switch
            there. A unit that has time for many looks switches some of its spread earlier.
        travel_mm: differential travel, the distance between the two.
        repeat: repeat accuracy; None if no approach was repeated.
        response_on, response_off: from the target's passing the edge to the output's answer; None where they
            were taken from the data sheet.

    """

    operate_mm: Measured
    release_mm: Measured
    travel_mm: Measured
    repeat: RepeatAccuracy | None
    response_on: ResponseTime | None
    response_off: ResponseTime | None

    @classmethod
    def of(
        cls,
        operate_mm: Measured,
        release_mm: Measured,
        target: TargetProfile,
        repeat: RepeatAccuracy | None = None,
        response_on: ResponseTime | None = None,
        response_off: ResponseTime | None = None,
        early_doubt_mm: float = 0.0,
    ) -> Self:
        """Add the differential travel to what was found."""
        travel_mm = differential_travel(operate_mm, release_mm, target, early_doubt_mm)
        return cls(operate_mm, release_mm, travel_mm, repeat, response_on, response_off)


@dataclass(frozen=True, slots=True)
class Effort:
    """How the figures were come by: readings of the output (a pass counts as one), moves of the target, time."""

    method: Method
    readings: int
    moves: int
    seconds: float


@dataclass(frozen=True, slots=True)
class EdgeResult:
    """One switching edge, measured; `wanted_mm` is the expanded uncertainty that was asked for."""

    side: DetectedSide
    wanted_mm: float
    figures: EdgeFigures
    effort: Effort


def bench_components(target: TargetProfile, position_mm: float) -> tuple[Component, ...]:
    """What the bench adds to the uncertainty of any position of the target, in mm.

    Placing again is not among them: it scatters from approach to approach and is seen in the readings.
    """
    return (
        zero_of_scale(target),
        scale_of_target(target, position_mm),
        Component.from_resolution(_STEP, target.resolution_mm),
        tilt_of_way(target, position_mm),
    )


def zero_of_scale(target: TargetProfile) -> Component:
    """How far the zero of the positions may be from the sensing face."""
    return Component.from_half_width("zero of the scale", target.zero_doubt_mm)


def tilt_of_way(target: TargetProfile, position_mm: float) -> Component:
    """What a way that is not quite along the unit's axis makes of a position."""
    tilt_mm = position_mm * (1 - math.cos(math.radians(target.tilt_deg)))
    return Component.from_half_width("tilt of the target's way", tilt_mm)


def scale_of_target(target: TargetProfile, distance_mm: float) -> Component:
    """How far the scale may be wrong over a distance."""
    return Component.from_half_width("scale of the target", target.scale_doubt_percent / 100 * distance_mm)


def finding(half_width_mm: float) -> Component:
    """The half-width of the interval that the readings leave to an edge, as a row of its budget."""
    return Component(FINDING, half_width_mm / coverage_factor(COVERAGE))


def measured_point(position_mm: float, found: tuple[Component, ...], target: TargetProfile) -> Measured:
    """A switching point with the bench's share in its uncertainty."""
    rows = (*found, *bench_components(target, position_mm))
    return Measured(position_mm, combine(rows, coverage=COVERAGE))


def differential_travel(
    operate: Measured, release: Measured, target: TargetProfile, early_doubt_mm: float = 0.0
) -> Measured:
    """Distance from operate to release point.

    Zero, tilt and most of the scale are the same in both and drop out. What is late moves the two points apart, as
    each is passed in its own direction, and so counts in full for both. `early_doubt_mm` is the standard
    uncertainty of how far before either point the unit switches, a part of finding each: it does the same.
    """
    travel_mm = abs(release.value - operate.value)
    own = [row for point in (operate, release) for row in point.budget.components if row.name in _OF_EACH]
    late = [_twice(row, release) for row in operate.budget.components if row.name in LATENESS]
    steps = Component.from_resolution(_STEP, target.resolution_mm, sensitivity=math.sqrt(2))
    # Twice the doubt in the difference; the rows of finding hold it once each.
    early = Component("looks of the unit", early_doubt_mm, math.sqrt(2))
    rows = (*own, *late, early, scale_of_target(target, travel_mm), steps)
    return Measured(travel_mm, combine(rows, coverage=COVERAGE))


def _twice(row: Component, release: Measured) -> Component:
    other = next(one for one in release.budget.components if one.name == row.name)
    return Component(row.name, row.contribution + other.contribution)


def response_time(swept: Swept) -> ResponseTime:
    """Response time from passes in one direction."""
    mean_s = Measured(swept.mean, combine(swept.components, coverage=COVERAGE))
    return ResponseTime(mean_s, max(swept.values), len(swept.values))
