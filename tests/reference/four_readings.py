"""What four readings about a set point say, straight from the rule: the reference for the chances of each verdict."""

from __future__ import annotations

from collections.abc import Callable

from rig.events import Verdict
from rig.statistics.edge_checks import EdgeChecks


def judged(checks: EdgeChecks, nearer_than_switching: Callable[[float], bool]) -> Verdict:
    """The verdict on a unit whose answer at a position, told from the set point, is nearer than where it switches."""

    def right(position_mm: float) -> bool:
        return nearer_than_switching(position_mm) is (position_mm < 0)

    inside, beyond = map(right, checks.inner_mm), map(right, checks.outer_mm)
    sides = list(zip(inside, beyond, strict=True))
    if (False, False) in sides:
        return Verdict.BAD
    return Verdict.GOOD if all(within for within, _ in sides) else Verdict.UNDECIDED
