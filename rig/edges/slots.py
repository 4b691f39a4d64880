"""An edge between two slots: the output changed from one to the next, and nothing tells where between them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

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
from rig.edges.task import EdgeTask
from rig.statistics.uncertainty import Component, combine
from wiring.profile import TargetProfile

BETWEEN = "between the slots"


@dataclass(frozen=True, slots=True)
class Gap:
    """Two positions between which an edge lies, the nearer first."""

    low_mm: float
    high_mm: float

    @property
    def middle_mm(self) -> float:
        """The middle."""
        return (self.low_mm + self.high_mm) / 2

    @property
    def half_width_mm(self) -> float:
        """Half of it."""
        return (self.high_mm - self.low_mm) / 2


def gap_of(gaps: Sequence[Gap]) -> Gap:
    """What several findings of one edge come to, one at least: all of what they leave open."""
    return Gap(min(gap.low_mm for gap in gaps), max(gap.high_mm for gap in gaps))


def slot_figures(inwards: Sequence[Gap], outwards: Sequence[Gap], target: TargetProfile) -> EdgeFigures:
    """What passes from slot to slot in both directions come to, one at least in each."""
    operate, release = gap_of(inwards), gap_of(outwards)
    travel_mm = abs(release.middle_mm - operate.middle_mm)
    rows = (
        Component.from_half_width(BETWEEN, operate.half_width_mm),
        Component.from_half_width(BETWEEN, release.half_width_mm),
        _placing(target, math.sqrt(2)),
        scale_of_target(target, travel_mm),
    )
    return EdgeFigures(
        _point(operate, target),
        _point(release, target),
        Measured(travel_mm, combine(rows, coverage=COVERAGE)),
        RepeatAccuracy(tuple(gap.middle_mm for gap in inwards), Method.SLOTS),
        None,
        None,
    )


def finest_slotted_mm(task: EdgeTask, target: TargetProfile) -> float:
    """The expanded uncertainty of an edge where it is expected; endless if no two slots enclose that place."""
    places_mm = [slot.position_mm for slot in target.slots]
    gaps = (Gap(*ends_mm) for ends_mm in pairwise(places_mm))
    around = [gap for gap in gaps if gap.low_mm <= task.expected_mm <= gap.high_mm]
    # An edge at a slot may be found to either side of it.
    return max((_point(gap, target).expanded for gap in around), default=math.inf)


def _point(gap: Gap, target: TargetProfile) -> Measured:
    rows = (
        Component.from_half_width(BETWEEN, gap.half_width_mm),
        _placing(target),
        zero_of_scale(target),
        scale_of_target(target, gap.middle_mm),
        tilt_of_way(target, gap.middle_mm),
    )
    return Measured(gap.middle_mm, combine(rows, coverage=COVERAGE))


def _placing(target: TargetProfile, times: float = 1.0) -> Component:
    return Component.from_half_width("placing in the slot", target.placement_mm, sensitivity=times)
