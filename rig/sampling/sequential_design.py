"""Sequential plans designed from two points: Wald's lines, proven to keep both risks (Sequential Analysis, 1947)."""

from __future__ import annotations

import math

from rig.sampling.design import Point, check_order, plan_by_two_points
from rig.sampling.plan import NoSuchPlan
from rig.sampling.sequential import LONGEST, SequentialPlan

_STRICTER = 0.98
_LONGER = 1.05
_TRIES = 8
# The last unit, in single samples.
_LAST = 1.5


def lines(producer: Point, consumer: Point) -> tuple[float, float, float]:
    """Slope and distances of Wald's two lines."""
    good, poor = producer.share_bad, consumer.share_bad
    log_good = math.log1p(-good) - math.log1p(-poor)
    scale = math.log(poor / good) + log_good
    accept = math.log((1 - producer.risk) / consumer.risk) / scale
    reject = math.log((1 - consumer.risk) / producer.risk) / scale
    return log_good / scale, accept, reject


def sequential_plan(producer: Point, consumer: Point) -> SequentialPlan:
    """A plan that keeps both risks, which is proven exactly; Wald's own lines wherever these do.

    Where rounding to whole units and the last unit would add to a risk, the lines are drawn for smaller ones. Raises
    NoSuchPlan where the points cannot be told apart, or only with more than `LONGEST` units.
    """
    check_order(producer, consumer)
    last = math.ceil(_LAST * plan_by_two_points(producer, consumer).sample_size)
    if last > LONGEST:
        raise _too_long()
    good, poor = producer, consumer
    for _ in range(_TRIES):
        plan = SequentialPlan(*lines(good, poor), last)
        rejects, accepts = 1 - plan.accepts_with(good.share_bad), plan.accepts_with(poor.share_bad)
        if rejects <= producer.risk and accepts <= consumer.risk:
            return plan
        good, poor = _stricter(good, producer.risk, rejects), _stricter(poor, consumer.risk, accepts)
        last = min(math.ceil(last * _LONGER), LONGEST)
    raise _too_long()


def _stricter(point: Point, asked: float, actual: float) -> Point:
    """A smaller risk to draw the lines for, by as much as the last one was missed."""
    return point if actual <= asked else Point(point.share_bad, point.risk * asked / actual * _STRICTER)


def _too_long() -> NoSuchPlan:
    return NoSuchPlan(
        f"no plan of up to {LONGEST} units keeps both risks; allowed: shares or risks further apart"
    )
