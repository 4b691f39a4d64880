"""What a search for an edge found, and what of it cannot be believed."""

from __future__ import annotations

from dataclasses import dataclass

from rig.edges.edge import Measured
from rig.edges.posterior import Estimate, Posterior, Spread
from rig.edges.search import Ending, Stop, restless
from rig.measuring.trouble import NotMeasured, Trouble
from wiring.saying import say

CLEAR_MM = 1.0
"""A seat keeps this clear of an edge, however little that scatters."""

# So many spreads beyond an edge the output has surely switched, or surely not.
_SURELY = 6.0
# With less differential travel than so many spreads a unit lets go of what it has just detected.
_LEAST_TRAVEL = 4.0


@dataclass(frozen=True, slots=True)
class Found:
    """What a search found: where the edge is, how it scatters, and the belief that says so."""

    belief: Posterior
    estimate: Estimate
    spread: Spread

    @property
    def margin_mm(self) -> float:
        """This far from the estimate everything is certain."""
        return self.estimate.half_width_mm + self.spread.early_mm + _SURELY * self.spread.sd_mm + CLEAR_MM


def found_by(what: str, belief: Posterior, stop: Stop) -> Found:
    """What a search that has ended says; raises NotMeasured where there is no edge, or not one."""
    if stop.ending in (Ending.BELOW, Ending.ABOVE):
        where = say(
            "between {low_mm:.1f} and {high_mm:.1f} mm",
            low_mm=belief.model.low_mm,
            high_mm=belief.model.high_mm,
        )
        raise NotMeasured(
            Trouble.BEYOND_REACH,
            say("the {what} is not {where}: {ending}", what=what, where=where, ending=stop.ending),
        )
    if restless(belief):
        raise NotMeasured(
            Trouble.CHANGES_ITS_MIND,
            say("{count} readings do not agree on one {what}", count=len(belief.readings), what=what),
        )
    return Found(belief, stop.estimate, belief.spread())


def demand_quiet(spread: Spread, travel: Measured) -> None:
    """Raise NotMeasured for a unit that scatters so much that its output cannot keep still near its edges."""
    if travel.value < _LEAST_TRAVEL * spread.sd_mm:
        raise NotMeasured(
            Trouble.OUTPUT_CHATTERS,
            say(
                "the unit scatters by {sd_mm:.2g} mm with a differential travel of {travel:.2g} mm: its "
                "output cannot keep still near its edges",
                sd_mm=spread.sd_mm,
                travel=travel.value,
            ),
        )
