"""Sequential sampling: unit by unit, until a lot is clearly good or poor (A. Wald, Sequential Analysis, 1947).

After each unit the bad ones so far are held against two lines: slope * tested - accept_below, and slope * tested +
reject_above. Very good and very poor lots are decided early; so that no lot drags on there is a last unit, at one and a
half times the single sample (ISO 8422, from memory). All that is said of a plan is exact: every way to every end is
counted, lines rounded to whole units and the last unit included.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from rig.sampling.counting import chance_of, lot_chance_of
from rig.sampling.estimate import BadInLot, bad_between, check
from rig.sampling.plan import Decision, NoSuchPlan
from rig.statistics.binomial import Bounds
from rig.statistics.numeric import root_between

LONGEST = 2000


@dataclass(frozen=True, slots=True)
class SequentialPlan:
    """Test unit by unit.

    Attributes:
        slope: units that may be bad of each one tested.
        accept_below: the line of acceptance begins so many bad units below nothing.
        reject_above: the line of rejection begins so many above.
        last: the lot is decided after this unit at the latest: accepted if no more are bad than the slope allows.

    """

    slope: float
    accept_below: float
    reject_above: float
    last: int

    def __post_init__(self) -> None:
        lines = (self.slope, self.accept_below, self.reject_above)
        if not (
            0 < self.slope < 1 and all(0 < line < math.inf for line in lines) and 1 <= self.last <= LONGEST
        ):
            raise NoSuchPlan(
                f"lines {lines} with a last unit {self.last} are no plan; allowed: a slope between 0 and 1, distances "
                f"above 0, a last unit of 1 to {LONGEST}"
            )

    @property
    def sample_size(self) -> int:
        """The most units that are tested."""
        return self.last

    def for_lot(self, lot_size: int) -> SequentialPlan:
        """The same, decided with the last unit of the lot at the latest."""
        return SequentialPlan(self.slope, self.accept_below, self.reject_above, min(self.last, lot_size))

    def acceptance_number(self, tested: int) -> int | None:
        """The most bad units with which the lot is accepted now; None where none is few enough yet."""
        most = math.floor(self.slope * tested - (self.accept_below if tested < self.last else 0.0))
        return most if most >= 0 else None

    def rejection_number(self, tested: int) -> int | None:
        """The fewest bad units with which it is rejected now; None where as many cannot have come yet."""
        fewest = math.ceil(self.slope * tested + self.reject_above)
        if tested >= self.last:
            fewest = math.floor(self.slope * tested) + 1
        return fewest if fewest <= tested else None

    def decided_early(self, tested: int, bad: int) -> Decision | None:
        """Decision after so many units; None where testing goes on."""
        most, fewest = self.acceptance_number(tested), self.rejection_number(tested)
        if most is not None and bad <= most:
            return Decision.ACCEPTED
        return Decision.REJECTED if fewest is not None and bad >= fewest else None

    def accepts_with(self, share_bad: float) -> float:
        """Probability that a lot is accepted, out of a process that makes this share of bad units."""
        return math.fsum(end.chance(share_bad) for end in ends_of(self) if end.decision is Decision.ACCEPTED)

    def tested_on_average(self, share_bad: float) -> float:
        """Units tested on average."""
        return math.fsum(end.chance(share_bad) * end.tested for end in ends_of(self))

    def tested_if_accepted(self, share_bad: float) -> float:
        """The same over the lots that are accepted; over all where none is."""
        accepted = self.accepts_with(share_bad)
        if accepted <= 0:
            return self.tested_on_average(share_bad)
        ends = (end for end in ends_of(self) if end.decision is Decision.ACCEPTED)
        return math.fsum(end.chance(share_bad) * end.tested for end in ends) / accepted

    def estimate(self, tested: int, bad: int) -> float:
        """The share of bad units where it ended, right on average (as in `estimate.py`).

        Raises ValueError where the plan does not end.
        """
        end = ends_of(self)[self._place(tested, bad)]
        return end.bad_first / end.chance_there

    def bounds(self, tested: int, bad: int, coverage: float = 0.95) -> Bounds:
        """Exact two-sided bounds of the process' share where it ended; ends are put in order as in `estimate.py`.

        Raises ValueError where the plan does not end, or for a coverage outside of 0 to 1.
        """
        check(coverage)
        place, doubt = self._place(tested, bad), (1 - coverage) / 2
        ends = ends_of(self)
        better, worse = ends[: place + 1], ends[place:]
        upper = 1.0 if place == len(ends) - 1 else _share_with(better, doubt)
        lower = 0.0 if place == 0 else _share_with(worse, doubt)
        return Bounds(lower, upper)

    def lot_bounds(self, tested: int, bad: int, lot_size: int, coverage: float = 0.95) -> BadInLot:
        """The same of the number of bad units in the lot (hypergeometric). Raises ValueError as `bounds` does."""
        check(coverage, tested, lot_size)
        place, doubt = self._place(tested, bad), (1 - coverage) / 2
        better, worse = ends_of(self)[: place + 1], ends_of(self)[place:]

        def too_few(in_lot: int) -> bool:
            return math.fsum(end.lot_chance(in_lot, lot_size) for end in worse) < doubt

        def few_enough(in_lot: int) -> bool:
            return math.fsum(end.lot_chance(in_lot, lot_size) for end in better) >= doubt

        return bad_between(too_few, few_enough, bad, lot_size - (tested - bad))

    def _place(self, tested: int, bad: int) -> int:
        for place, end in enumerate(ends_of(self)):
            if (end.tested, end.bad) == (tested, bad):
                return place
        raise ValueError(f"the plan does not end with {bad} bad of {tested}; its numbers say where it does")


@dataclass(frozen=True, slots=True)
class End:
    """Where a plan may end.

    Attributes:
        at_share: a share of bad units, and
        chance_there: the probability to end here with it,
        bad_first: how much of that comes from orders of units that begin with a bad one.

    """

    tested: int
    bad: int
    decision: Decision
    at_share: float
    chance_there: float
    bad_first: float

    def chance(self, share_bad: float) -> float:
        """Probability to end here, out of a process that makes this share of bad units."""
        good = self.tested - self.bad
        if (share_bad <= 0 and self.bad) or (share_bad >= 1 and good):
            return 0.0
        log = self.bad * math.log(share_bad / self.at_share) if self.bad else 0.0
        log += good * math.log((1 - share_bad) / (1 - self.at_share)) if good else 0.0
        return math.exp(math.log(self.chance_there) + log)

    def lot_chance(self, bad: int, lot_size: int) -> float:
        """Probability to end here with a lot that holds so many bad units."""
        part = self.chance_there / chance_of(self.bad, self.tested, self.at_share)
        return lot_chance_of(self.bad, self.tested, bad, lot_size) * part


@lru_cache(maxsize=32)
def ends_of(plan: SequentialPlan) -> tuple[End, ...]:
    """Every end of a plan, from the best lot to the worst: accepted the sooner, rejected the later the better."""
    found = list(_ends(plan))
    accepted = [end for end in found if end.decision is Decision.ACCEPTED]
    rejected = [end for end in found if end.decision is Decision.REJECTED]
    accepted.sort(key=lambda end: (end.tested, end.bad))
    rejected.sort(key=lambda end: (-end.tested, end.bad))
    return (*accepted, *rejected)


def _ends(plan: SequentialPlan) -> Iterator[End]:
    """Unit by unit: the chance of each number of bad ones with which testing goes on, for one share; of any other it
    follows, since all orders of as many good and bad units are alike.
    """
    share = plan.slope
    fewest, chances, bad_first = 0, [1.0], [0.0]
    for tested in range(1, plan.last + 1):
        chances = _one_more(chances, share)
        bad_first = _one_more(bad_first, share) if tested > 1 else [0.0, share]
        accept, reject = plan.acceptance_number(tested), plan.rejection_number(tested)
        while accept is not None and chances and fewest <= accept:
            yield End(tested, fewest, Decision.ACCEPTED, share, chances.pop(0), bad_first.pop(0))
            fewest += 1
        while reject is not None and chances and (most := fewest + len(chances) - 1) >= reject:
            yield End(tested, most, Decision.REJECTED, share, chances.pop(), bad_first.pop())
        if not chances:
            return


def _one_more(chances: list[float], share: float) -> list[float]:
    return [
        here * (1 - share) + below * share
        for here, below in zip([*chances, 0.0], [0.0, *chances], strict=True)
    ]


def _share_with(ends: tuple[End, ...], chance: float) -> float:
    """The share with which one of these ends comes with this chance."""
    return root_between(lambda share: math.fsum(end.chance(share) for end in ends) - chance, 0.0, 1.0)
