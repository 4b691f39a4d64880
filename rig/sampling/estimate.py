"""What a sample says about the share of bad units, also where testing ended before the sample was whole.

Testing that ends as soon as the lot is decided makes the plain share misleading: a lot is rejected early because bad
units came early. The estimate that is right on average over all lots is then (bad - 1) of (tested - 1) for a rejected
lot, and bad of (tested - 1) for an accepted one (Girshick, Mosteller and Savage, Annals of Mathematical Statistics 17
(1946) 13-23; from memory). The bounds are exact: outcomes are put in order from the best lot to the worst, a rejection
the worse the earlier it came, and a share is left out if the outcome, or a more extreme one, would be too rare with it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from rig.sampling.counting import lot_chance_up_to
from rig.statistics.binomial import Bounds, clopper_pearson


class Ending(StrEnum):
    """Why testing of a sample ended."""

    WHOLE = "whole sample tested"
    REJECTED_EARLY = "ended early: the lot could no longer pass"
    ACCEPTED_EARLY = "ended early: the lot could no longer fail"
    BROKEN_OFF = "broken off for a reason that has nothing to do with what was found"


@dataclass(frozen=True, slots=True)
class Seen:
    """Units tested in random order, bad ones among them, and why testing ended.

    Raises ValueError for numbers that cannot be, as a rejection without a bad unit.
    """

    tested: int
    bad: int
    ending: Ending = Ending.WHOLE

    def __post_init__(self) -> None:
        if not 0 <= self.bad <= self.tested:
            raise ValueError(f"{self.bad} bad of {self.tested} tested; allowed: 0 up to what was tested")
        decided = {Ending.REJECTED_EARLY: self.bad, Ending.ACCEPTED_EARLY: self.tested - self.bad}
        if decided.get(self.ending, 1) < 1:
            raise ValueError(f"{self.ending}, though no unit was found that could have decided it")

    @property
    def estimate(self) -> float | None:
        """The share of bad units, right on average over many lots; None where nothing can be said."""
        match self.ending:
            case Ending.REJECTED_EARLY:
                # With one bad unit it would be 0, or 1 if that was the first: right on average, and of no use.
                return (self.bad - 1) / (self.tested - 1) if self.bad > 1 else None
            case Ending.ACCEPTED_EARLY:
                return _share(self.bad, self.tested - 1)
            case _:
                return _share(self.bad, self.tested)

    @property
    def at_least(self) -> tuple[int, int]:
        """Bad of tested from which the lower bound follows."""
        if self.ending is Ending.ACCEPTED_EARLY:
            return self.bad, self.tested - 1
        return self.bad, self.tested

    @property
    def at_most(self) -> tuple[int, int]:
        """Bad of tested from which the upper bound follows."""
        if self.ending is Ending.REJECTED_EARLY:
            return self.bad - 1, self.tested - 1
        return self.bad, self.tested


@dataclass(frozen=True, slots=True)
class BadInLot:
    """So many bad units are in the lot, counting those that were found."""

    fewest: int
    most: int

    def __contains__(self, bad: int) -> bool:
        return self.fewest <= bad <= self.most


def process_bounds(seen: Seen, coverage: float = 0.95) -> Bounds:
    """Two-sided bounds of the share that the process makes. Raises ValueError for a coverage outside of 0 to 1."""
    return Bounds(
        clopper_pearson(*seen.at_least, coverage).lower, clopper_pearson(*seen.at_most, coverage).upper
    )


def lot_bounds(seen: Seen, lot_size: int, coverage: float = 0.95) -> BadInLot:
    """Two-sided bounds of the number of bad units in the lot that the sample was drawn from (hypergeometric).

    Raises ValueError for a coverage outside of 0 to 1, or more units tested than the lot has.
    """
    check(coverage, seen.tested, lot_size)
    doubt = (1 - coverage) / 2
    (bad, tested), (bad_above, tested_above) = seen.at_least, seen.at_most

    def too_few(in_lot: int) -> bool:
        return 1 - lot_chance_up_to(bad - 1, tested, in_lot, lot_size) < doubt

    def few_enough(in_lot: int) -> bool:
        return lot_chance_up_to(bad_above, tested_above, in_lot, lot_size) >= doubt

    return bad_between(too_few, few_enough, seen.bad, lot_size - (seen.tested - seen.bad))


def check(coverage: float, tested: int = 0, lot_size: int | None = None) -> None:
    """Raise ValueError for a coverage outside of 0 to 1, or more units tested than the lot has."""
    if not 0 < coverage < 1:
        raise ValueError(f"coverage is {coverage:g}; allowed: between 0 and 1")
    if lot_size is not None and tested > lot_size:
        raise ValueError(f"{tested} units tested of a lot of {lot_size}; allowed: up to {lot_size}")


def bad_between(
    too_few: Callable[[int], bool], few_enough: Callable[[int], bool], fewest: int, most: int
) -> BadInLot:
    """The numbers of bad units that are neither too few nor too many for what was seen."""
    return BadInLot(
        _first_not(too_few, fewest, most), max(_first_not(few_enough, fewest, most + 1) - 1, fewest)
    )


def _share(bad: int, of: int) -> float | None:
    return bad / of if of else None


def _first_not(holds: Callable[[int], bool], low: int, high: int) -> int:
    """The first number from `low` for which it no longer holds, or `high`."""
    while low < high:
        middle = (low + high) // 2
        if holds(middle):
            low = middle + 1
        else:
            high = middle
    return low
