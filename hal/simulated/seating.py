"""How units sit in the nest: never twice the same, and everybody has a hand of their own."""

from __future__ import annotations

import random

from hal.simulated.truths import SeatingTruth


class Seating:
    """Draws how far from where it should a unit sits each time that it is put in."""

    def __init__(self, truth: SeatingTruth, seed: int) -> None:
        self._spread_mm = truth.spread_mm
        self._offsets_mm = {hand.name: hand.offset_mm for hand in truth.by}
        self._draw = random.Random(f"{seed}/seating")

    def sits_mm(self, puts_in: str) -> float:
        """How much further from the target than it should a unit sits that `puts_in` has put in just now."""
        offset_mm = self._offsets_mm.get(puts_in, 0.0)
        return offset_mm + self._draw.gauss(0.0, self._spread_mm) if self._spread_mm else offset_mm
