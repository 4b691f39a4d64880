"""Whether units of an order can be studied, and against which limits; pure."""

from __future__ import annotations

from collections.abc import Iterator

from rig.deciding.requirement import Figure, Requirement
from rig.planning.plan import Plan
from sequences.order import Order


def misfits(plan: Plan, order: Order, edge: str) -> Iterator[str]:
    """Why an edge of the units of an order cannot be studied, each with what is allowed."""
    if plan.measuring is None:
        yield (
            f"order {order.number} reads its units at positions, which says on which side of each they switch, not "
            'where; allowed: an order with checks.method = "measured" or "guided"'
        )
    elif _required(plan, edge) is None:
        measured = [str(task.called) for task in plan.measuring.tasks if _required(plan, str(task.called))]
        yield (
            f"--edge {edge}: order {order.number} states no tolerance for it; allowed: "
            f"{' or '.join(measured) or 'an order with a set point'}"
        )


def limits_of(plan: Plan, edge: str) -> tuple[float, float]:
    """Between these the edge lies within its tolerance, on the bench; ValueError where none is stated."""
    required = _required(plan, edge)
    if required is None or required.low is None or required.high is None:
        raise ValueError(f"no tolerance is stated for the {edge} edge")
    return required.low, required.high


def _required(plan: Plan, edge: str) -> Requirement | None:
    for one in () if plan.measuring is None else plan.measuring.required:
        if one.figure is Figure.OPERATE and one.edge == edge and None not in (one.low, one.high):
            return one
    return None
