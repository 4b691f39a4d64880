"""A plan for a lot: units tested, bad ones with which it is still accepted; and what such a plan achieves.

A share of bad units is a number from 0 to 1. Chances are those of a lot out of a process that makes this share of bad
units (binomial, type B) unless the number of bad units in the lot itself is given (hypergeometric, type A). Formulas:
Montgomery, Introduction to Statistical Quality Control, chapter 15 (from memory); NIST/SEMATECH e-Handbook 6.2.3.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from rig.sampling.counting import chance_up_to, lot_chance_up_to

# Rounding of shares that mean a whole number of units.
_HARDLY = 1e-9


class NoSuchPlan(ValueError):
    """What was asked for has no plan; the words say what is allowed."""


class Decision(StrEnum):
    """What becomes of a lot (ISO 2859-1: acceptable, not acceptable)."""

    ACCEPTED = "accepted"
    REJECTED = "rejected"


class Plan(Protocol):
    """Any plan: how likely it accepts, and how many units it asks for on average."""

    def accepts_with(self, share_bad: float) -> float:
        """Probability that a lot is accepted, out of a process that makes this share of bad units."""
        ...

    def tested_on_average(self, share_bad: float) -> float:
        """Units of the sample that are tested on average until the lot is decided."""
        ...

    def tested_if_accepted(self, share_bad: float) -> float:
        """The same over the lots that are accepted."""
        ...


@dataclass(frozen=True, slots=True)
class SinglePlan:
    """Single sampling by attributes: test `sample_size` units, accept with at most `acceptance_number` bad ones.

    Raises NoSuchPlan for a sample below 1, or a negative acceptance number.
    """

    sample_size: int
    acceptance_number: int = 0

    def __post_init__(self) -> None:
        if self.sample_size < 1 or self.acceptance_number < 0:
            raise NoSuchPlan(
                f"a sample of {self.sample_size} with at most {self.acceptance_number} bad is no plan; "
                "allowed: a sample of 1 or more, with 0 or more bad"
            )

    @property
    def rejection_number(self) -> int:
        """The fewest bad units that reject the lot."""
        return self.acceptance_number + 1

    def for_lot(self, lot_size: int) -> SinglePlan:
        """The same for a lot: where the sample reaches it, every unit is tested (ISO 2859-1)."""
        return SinglePlan(min(self.sample_size, lot_size), self.acceptance_number)

    def decide(self, bad: int) -> Decision:
        """Decision on a whole sample."""
        return Decision.ACCEPTED if bad <= self.acceptance_number else Decision.REJECTED

    def decided_early(self, tested: int, bad: int) -> Decision | None:
        """What is certain already after part of the sample, whatever the rest is like; None while it is open."""
        if bad > self.acceptance_number:
            return Decision.REJECTED
        left = self.sample_size - tested
        return Decision.ACCEPTED if bad + left <= self.acceptance_number else None

    def accepts_with(self, share_bad: float) -> float:
        """Probability that a lot is accepted, out of a process that makes this share of bad units."""
        return chance_up_to(self.acceptance_number, self.sample_size, share_bad)

    def accepts_lot(self, bad: int, lot_size: int) -> float:
        """Probability that a lot is accepted that holds so many bad units."""
        return lot_chance_up_to(self.acceptance_number, min(self.sample_size, lot_size), bad, lot_size)

    def tested_on_average(self, share_bad: float) -> float:  # noqa: ARG002  # the same whatever the share
        """All of the sample, whatever the share."""
        return float(self.sample_size)

    tested_if_accepted = tested_on_average


def whole_lot(lot_size: int, acceptance_number: int = 0) -> SinglePlan:
    """Test every unit of the lot."""
    return SinglePlan(lot_size, acceptance_number)


@dataclass(frozen=True, slots=True)
class OneLot:
    """A single plan as it meets one lot by itself: shares are those of the lot, in whole units (type A)."""

    plan: SinglePlan
    lot_size: int

    def accepts_with(self, share_bad: float) -> float:
        """Probability that the lot is accepted if at least this share of it is bad, to a whole unit."""
        return self.plan.accepts_lot(math.floor(share_bad * self.lot_size + _HARDLY), self.lot_size)

    def tested_on_average(self, share_bad: float) -> float:
        """All of the sample, whatever the share."""
        return self.plan.tested_on_average(share_bad)

    def tested_if_accepted(self, share_bad: float) -> float:
        """The same."""
        return self.plan.tested_on_average(share_bad)

    def most_accepted_with(self, chance: float) -> int:
        """The most bad units with which the lot is accepted with at least this chance."""
        low, high = 0, self.lot_size
        while low < high:
            middle = (low + high + 1) // 2
            if self.plan.accepts_lot(middle, self.lot_size) >= chance - _HARDLY:
                low = middle
            else:
                high = middle - 1
        return low
