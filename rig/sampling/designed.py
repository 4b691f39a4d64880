"""A plan with what it was designed for: its curves as rows, and what it achieves where it matters."""

from __future__ import annotations

from dataclasses import dataclass

from rig.sampling.curve import point_at, worst_shown
from rig.sampling.design import Point
from rig.sampling.plan import NoSuchPlan, OneLot, Plan, SinglePlan
from rig.sampling.proof import promises
from rig.sampling.standard import StandardPlan

_ROWS = 100


@dataclass(frozen=True, slots=True)
class Row:
    """What happens to lots with one share of bad units; None for what needs a lot size, or is none of one lot's.

    Attributes:
        tested: units of the sample that are tested on average.
        outgoing: share of bad units left on average, once rejected lots have been sorted.
        inspected: units tested for a lot on average, those of sorted lots included.

    """

    share_bad: float
    accepted: float
    tested: float
    outgoing: float | None
    inspected: float | None


@dataclass(frozen=True, slots=True)
class Designed:
    """A plan, and where it comes from.

    `isolated`: shares are those of this one lot. Raises NoSuchPlan where the sample is larger than the lot.
    """

    plan: Plan
    lot_size: int | None = None
    good: Point | None = None
    poor: Point | None = None
    isolated: bool = False
    standard: StandardPlan | None = None

    def __post_init__(self) -> None:
        needed = self.plan.tested_on_average(0.0)
        if self.lot_size is not None and needed > self.lot_size:
            raise NoSuchPlan(
                f"the plan needs {needed:g} units and the lot has {self.lot_size}; allowed: a larger lot, or every unit"
            )

    @property
    def meets(self) -> Plan:
        """The plan as it meets what the shares are of: one lot, or lots out of a process."""
        if self.isolated and self.lot_size is not None and isinstance(self.plan, SinglePlan):
            return OneLot(self.plan, self.lot_size)
        return self.plan

    @property
    def asked(self) -> tuple[float, ...]:
        """The shares of bad units that it was designed or looked up for."""
        if self.standard is not None:
            return (self.standard.aql_percent / 100,)
        return tuple(point.share_bad for point in (self.good, self.poor) if point is not None)

    @property
    def whole_lot(self) -> bool:
        """Whether every unit is tested."""
        return self.plan.tested_on_average(0.0) == self.lot_size

    @property
    def promises(self) -> tuple[str, ...]:
        """What it promises, in words."""
        return promises(self.meets, self.lot_size)

    def row(self, share_bad: float) -> Row:
        """What happens to lots with this share."""
        meets, size = self.meets, self.lot_size
        point = None if size is None else point_at(meets, size, share_bad)
        return Row(
            share_bad,
            meets.accepts_with(share_bad),
            meets.tested_on_average(share_bad),
            None if point is None or self.isolated else point.outgoing,
            None if point is None else point.inspected,
        )

    def rows(self, count: int = _ROWS) -> tuple[Row, ...]:
        """Rows from a lot without a bad unit to one that is hardly ever accepted, about `count` and one."""
        worst = self.worst
        if self.isolated and self.lot_size is not None:
            most = round(worst * self.lot_size)
            step = max(1, -(-most // count))
            return tuple(self.row(bad / self.lot_size) for bad in range(0, most + 1, step))
        return tuple(self.row(worst * step / count) for step in range(count + 1))

    @property
    def worst(self) -> float:
        """The largest share that is worth showing."""
        return worst_shown(self.meets)
