"""Which position to read next: where a second on the bench is expected to tell most about the edge."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from rig.edges.posterior import Estimate, Floats, Posterior

MOST_READINGS = 60
"""A search that has not ended by now will not: some three times what it takes (measured on simulated edges)."""

_LEVELS = np.linspace(0.04, 0.96, 13)
_SURELY_OUTSIDE = 0.99
_HAIR = 1e-9  # far below a step, far above what rounding does to a float
# A false reading that is believed leaves the edge far off: that must be this unlikely beyond so many times the
# wanted half-width. On simulated edges it costs one reading in twenty-five edges.
_GROSS = 3.0
_NOT_GROSS = 0.995
# How unlikely so many false readings must be before the unit, not chance, is held to be at fault.
_RESTLESS = 0.001


@dataclass(frozen=True, slots=True)
class Pace:
    """What a reading takes on the bench.

    `reading_s` is all that every reading needs, wherever it is: settling and the response of the unit. Before each
    reading the unit is brought back to where its output has not switched: the target goes to `seat_mm`, or out of
    the beam and back in, which takes `swing_s`, whichever is quicker. Without a seat it need do neither.
    """

    speed_mm_s: float
    reading_s: float
    seat_mm: float | None = None
    swing_s: float = math.inf

    def seconds(self, from_mm: float, to_mm: Floats) -> Floats:
        """How long a reading at each position takes for a target that stands at `from_mm`."""
        straight_s = abs(to_mm - from_mm) / self.speed_mm_s
        if self.seat_mm is None:
            return self.reading_s + straight_s
        by_seat_s = (abs(self.seat_mm - from_mm) + abs(to_mm - self.seat_mm)) / self.speed_mm_s
        return self.reading_s + np.minimum(by_seat_s, self.swing_s + straight_s)

    def swings(self, from_mm: float, to_mm: float) -> bool:
        """Whether leaving the beam is the quicker way to a position."""
        seat_mm = to_mm if self.seat_mm is None else self.seat_mm
        by_seat_mm = abs(seat_mm - from_mm) + abs(to_mm - seat_mm)
        return self.swing_s < (by_seat_mm - abs(to_mm - from_mm)) / self.speed_mm_s


@dataclass(frozen=True, slots=True)
class Rules:
    """When to stop, and how finely the target can be set.

    `wanted_mm` is the half-width of the interval that holds the edge with a probability of `coverage`. Positions
    are whole multiples of `step_mm`.
    """

    wanted_mm: float
    pace: Pace
    step_mm: float
    coverage: float = 0.95
    most_readings: int = MOST_READINGS

    def __post_init__(self) -> None:
        if not self.wanted_mm > 0:
            raise ValueError(f"wanted half-width is {self.wanted_mm:g} mm; allowed: more than 0")


class Ending(StrEnum):
    """Why a search ended."""

    FOUND = "found to the wanted uncertainty"
    BELOW = "edge is nearer than the interval"
    ABOVE = "edge is farther than the interval"
    SPENT = "as many readings as allowed"


@dataclass(frozen=True, slots=True)
class Step:
    """Read here next: what it is expected to tell and how long it takes."""

    position_mm: float
    gain_bit: float
    seconds: float


@dataclass(frozen=True, slots=True)
class Stop:
    """The search has ended; the estimate stands unless the edge is outside."""

    ending: Ending
    estimate: Estimate


def next_step(belief: Posterior, rules: Rules, here_mm: float) -> Step | Stop:
    """Say where to read next with the target at `here_mm`, or that the search has ended and why."""
    estimate = belief.estimate(rules.coverage)
    ending = _ending(belief, rules, estimate)
    if ending is not None:
        return Stop(ending, estimate)
    positions_mm = _candidates(belief, rules)
    gains_bit = belief.gains_bit(positions_mm)
    seconds = rules.pace.seconds(here_mm, positions_mm)
    best = int(np.argmax(gains_bit / seconds))
    return Step(float(positions_mm[best]), float(gains_bit[best]), float(seconds[best]))


def restless(belief: Posterior) -> bool:
    """Whether more readings speak against the edge that was found than false ones can explain."""
    return _at_least(belief.against(), len(belief.readings), belief.model.false_share) < _RESTLESS


def _ending(belief: Posterior, rules: Rules, estimate: Estimate) -> Ending | None:
    below, above = belief.outside
    spent = len(belief.readings) >= rules.most_readings
    # Close to an end of the interval nothing tells an edge just within from one beyond; then it counts as beyond.
    if max(below, above) > _SURELY_OUTSIDE or (spent and math.isinf(estimate.half_width_mm)):
        return Ending.BELOW if below > above else Ending.ABOVE
    gross_mm = _GROSS * rules.wanted_mm
    if estimate.half_width_mm <= rules.wanted_mm and belief.estimate(_NOT_GROSS).half_width_mm <= gross_mm:
        return Ending.FOUND
    return Ending.SPENT if spent else None


def _candidates(belief: Posterior, rules: Rules) -> Floats:
    """Positions at which the output is as likely switched as not if the edge is at a level of what is believed.

    None beyond the interval: an edge outside it may be anywhere, so nothing is known of a reading there.
    """
    early_mm = belief.spread().early_mm
    levels_mm = belief.quantiles_mm(_LEVELS) + (-early_mm if belief.model.rising else early_mm)
    ends_mm = (belief.model.low_mm, belief.model.high_mm)
    first, last = (
        math.ceil(ends_mm[0] / rules.step_mm - _HAIR),
        math.floor(ends_mm[1] / rules.step_mm + _HAIR),
    )
    steps = np.round(np.concatenate((levels_mm, ends_mm)) / rules.step_mm)
    return np.unique(np.clip(steps, first, max(first, last))) * rules.step_mm


def _at_least(count: int, of: int, share: float) -> float:
    fewer = (math.comb(of, k) * share**k * (1 - share) ** (of - k) for k in range(count))
    return 1 - math.fsum(fewer)
