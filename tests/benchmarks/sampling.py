"""Designing sampling plans: the dearest of each kind that is asked for, by processor time after import."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

from rig.sampling.design import Point, plan_by_two_points, zero_acceptance_plan
from rig.sampling.noncentral import _spreads
from rig.sampling.sequential import ends_of
from rig.sampling.sequential_design import sequential_plan
from rig.sampling.standard import standard_plan, tables
from rig.sampling.variables import variables_plan
from tests.benchmarks.figure import Figure, Reference

_GOAL_MS = 100.0
# From plain to dear: good and poor with their risks. The last ones are the slowest of 400 drawn at random.
_POINTS = (
    (Point(0.01, 0.05), Point(0.10, 0.10)),
    (Point(0.05, 0.05), Point(0.15, 0.075)),
    (Point(0.02, 0.01), Point(0.04, 0.01)),
    (Point(0.49, 0.0017), Point(0.5166, 0.077)),
    (Point(0.00108, 0.0019), Point(0.00266, 0.115)),
)
_STEPWISE = (*_POINTS[:2], (Point(0.1347, 0.162), Point(0.1616, 0.0423)))


def measure(*, quick: bool) -> Iterator[Figure]:
    """The slowest of each kind; nothing that an earlier plan left in memory helps."""
    bare = Reference("adding up 100,000 numbers", _ms(lambda: sum(range(100_000))))
    kinds: dict[str, list[Callable[[], object]]] = {
        "of ISO 2859-1, tables read anew": [lambda: (tables.cache_clear(), standard_plan(90_000, 0.10))],
        "by two points": [lambda pair=pair: plan_by_two_points(*pair) for pair in _POINTS],
        "by two points for a lot of 20,000": [
            lambda pair=pair: plan_by_two_points(*pair, 20_000) for pair in _POINTS
        ],
        "without a bad unit, 0.05 %": [lambda: zero_acceptance_plan(Point(0.0005, 0.01))],
        "by values": [lambda pair=pair: variables_plan(*pair) for pair in _POINTS],
        "unit by unit": [lambda pair=pair: sequential_plan(*pair) for pair in _STEPWISE],
    }
    for name, designs in kinds.items():
        worst = max(_ms(design) for design in (designs[:1] if quick else designs))
        yield Figure(
            f"a plan {name}", worst, "ms", bare, goal=_GOAL_MS, note=f"the slowest of {len(designs)}"
        )


def _ms(action: Callable[[], object]) -> float:
    ends_of.cache_clear()
    _spreads.cache_clear()
    start_s = time.process_time()
    action()
    return (time.process_time() - start_s) * 1000
