"""An edge from the moment at which the output switches while the target passes at constant speed.

The output is late by the response time of the unit, and the target by what its controller takes to start. Both
make the edge seem further along the way; the way is known, so what they come to is taken off again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from rig.statistics.uncertainty import Component

SCATTER = "scatter of the passes"
_RESPONSE, _START = "response time", "start of the move"
LATENESS = (_RESPONSE, _START)
"""Names of the budget rows that move an edge along the way of the target."""

START_LATEST_S = 0.01
"""A stage starts within this time of its command (common practice, no source)."""

# A unit looks twice within its response time (common practice, no source).
_SLOWEST = 1.5


@dataclass(frozen=True, slots=True)
class Lag:
    """By how much the output switches after the target passed the edge: anything within a half-width."""

    middle_s: float
    half_width_s: float

    @classmethod
    def up_to(cls, longest_s: float) -> Lag:
        """A time of which only the longest is known."""
        return cls(longest_s / 2, longest_s / 2)

    @classmethod
    def by_data_sheet(cls, response_s: float) -> Lag:
        """What a stated response time may come to; a target that comes slowly also waits for the next look."""
        return cls.up_to(_SLOWEST * response_s)


@dataclass(frozen=True, slots=True)
class Pass:
    """One move across an edge: commanded at `start_s`, output switched at `edge_s`, on the same clock."""

    start_mm: float
    end_mm: float
    speed_mm_s: float
    start_s: float
    edge_s: float

    def __post_init__(self) -> None:
        if self.edge_s < self.start_s:
            raise ValueError(
                f"output switched at {self.edge_s:g} s, before the move began at {self.start_s:g} s"
            )
        if self.start_mm == self.end_mm or not 0 < self.speed_mm_s < math.inf:
            raise ValueError(
                f"a pass from {self.start_mm:g} to {self.end_mm:g} mm at {self.speed_mm_s:g} mm/s"
            )

    def place_mm(self, lag_s: float) -> float:
        """Where the target was `lag_s` before the output switched; never beyond the ends of the move."""
        gone_mm = self.speed_mm_s * (self.edge_s - self.start_s - lag_s)
        whole_mm = abs(self.end_mm - self.start_mm)
        return self.start_mm + math.copysign(min(max(gone_mm, 0.0), whole_mm), self.end_mm - self.start_mm)

    def lag_s(self, edge_mm: float) -> float:
        """How long after passing `edge_mm` the output switched."""
        return self.edge_s - self.start_s - abs(edge_mm - self.start_mm) / self.speed_mm_s


@dataclass(frozen=True, slots=True)
class Swept:
    """What passes in one direction come to: the mean and what makes it uncertain, before the bench's own share."""

    mean: float
    values: tuple[float, ...]
    components: tuple[Component, ...]


def swept_edge(passes: Sequence[Pass], response: Lag) -> Swept:
    """The edge in mm, from two passes or more in one direction.

    Raises ValueError for fewer, since nothing would be known of how they scatter.
    """
    start = Lag.up_to(START_LATEST_S)
    places_mm = tuple(one.place_mm(response.middle_s + start.middle_s) for one in passes)
    speed_mm_s = max(one.speed_mm_s for one in passes)
    return Swept(
        fmean(places_mm),
        places_mm,
        (
            Component.from_readings(SCATTER, places_mm),
            Component.from_half_width(_RESPONSE, response.half_width_s, sensitivity=speed_mm_s),
            Component.from_half_width(_START, start.half_width_s, sensitivity=speed_mm_s),
        ),
    )


def swept_response(passes: Sequence[Pass], edge_mm: float, edge_u_mm: float) -> Swept:
    """The response time in seconds, from two passes or more across an edge known with a standard uncertainty.

    Raises ValueError for fewer.
    """
    start = Lag.up_to(START_LATEST_S)
    times_s = tuple(one.lag_s(edge_mm) - start.middle_s for one in passes)
    slowest_mm_s = min(one.speed_mm_s for one in passes)
    return Swept(
        fmean(times_s),
        times_s,
        (
            Component.from_readings(SCATTER, times_s),
            Component("place of the edge", edge_u_mm, sensitivity=1 / slowest_mm_s),
            Component.from_half_width(_START, start.half_width_s),
        ),
    )


def sweep_standard_uncertainty_mm(speed_mm_s: float, longest_response_s: float) -> float:
    """What a sweep cannot do better than, however often it is repeated, with the data sheet's response time."""
    lags = (Lag.by_data_sheet(longest_response_s), Lag.up_to(START_LATEST_S))
    return speed_mm_s * math.hypot(*(lag.half_width_s for lag in lags)) / math.sqrt(3)
