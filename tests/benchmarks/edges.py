"""Simulated edges for the comparison of ways to find them: noise, hysteresis, false readings."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

LOW_MM, HIGH_MM = 100.0, 600.0
WANTED_MM = 0.5
FALSE_SHARE = 0.02
# 0.1 % of the distance, from the near to the far end of most of the interval.
NOISE_MM = (0.1, 0.5)
STEP_MM = 0.1
COVERAGE = 0.95


@dataclass(frozen=True, slots=True)
class Answer:
    """What a method says of an edge, and what it took."""

    position_mm: float
    half_width_mm: float
    readings: int
    choosing_s: tuple[float, ...] = ()


class SimulatedEdge:
    """The outer edge of a zone: detected when nearer than the threshold, released a little further out.

    The same number gives the same edge, and the same luck reading by reading, to every method.
    """

    def __init__(self, number: int, *, false_share: float = FALSE_SHARE) -> None:
        draw = random.Random(f"edge {number}")
        self.threshold_mm = draw.uniform(LOW_MM, HIGH_MM)
        self.noise_mm = math.exp(draw.uniform(*(math.log(noise_mm) for noise_mm in NOISE_MM)))
        self.travel_mm = max(2.0, 0.01 * self.threshold_mm)
        self.readings = 0
        self._false_share = false_share
        self._draw = random.Random(f"readings {number}")
        self._detected = False

    def approach(self, position_mm: float) -> bool:
        """Read at a position, reached from outside the zone."""
        self._detected = False
        return self.move(position_mm)

    def move(self, position_mm: float) -> bool:
        """Read at a position, reached from wherever the target was."""
        self.readings += 1
        edge_mm = self.threshold_mm + (self.travel_mm if self._detected else 0.0)
        self._detected = position_mm < self._draw.gauss(edge_mm, self.noise_mm)
        return self._detected is not (self._draw.random() < self._false_share)


def information_bound() -> float:
    """Fewest readings on average: the bits that single out one interval, over what a reading can carry.

    log2(N) / (1 - H2(false share)), with N intervals of the wanted width.
    """
    intervals = (HIGH_MM - LOW_MM) / (2 * WANTED_MM)
    share = FALSE_SHARE
    lost_bit = -share * math.log2(share) - (1 - share) * math.log2(1 - share)
    return math.log2(intervals) / (1 - lost_bit)
