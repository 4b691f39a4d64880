"""The chart of a check unit: its limits are learnt from its first measurements, and hold from then on."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence

from rig.control.chart import (
    UNCERTAINTY_RULE,
    Baseline,
    ControlChart,
    Signal,
    Watching,
    chart_of,
    moving_ranges,
)
from wiring.check_unit import RunRule

BASELINE = 20
"""From so many undisturbed measurements the limits are worked out for good (common practice, no source)."""
FEWEST = 5
"""With fewer no limits are drawn, and only the stated uncertainty stands against a measurement (our choice)."""


def learning_chart(
    values: Sequence[float],
    expanded: Sequence[float],
    watching: Watching,
    *,
    restarts: Collection[int] = (),
    baseline_count: int = BASELINE,
) -> ControlChart:
    """Chart measurements of one thing that should stay as it is.

    Until `baseline_count` undisturbed ones are there, each is held against limits for the next value; from then on
    against fixed limits, with all rules. Every one is held against the first by both expanded uncertainties.

    Args:
        values: in the order in which they came.
        expanded: expanded uncertainty of each.
        watching: rules, and the weighted mean, once the limits are fixed.
        restarts: indices at which somebody has looked.
        baseline_count: how many make the limits.

    """
    undisturbed: list[float] = []
    limits: list[tuple[float, float] | None] = []
    signals = list(_beyond_uncertainty(values, expanded))
    doubted = {one.at for one in signals}
    for index, value in enumerate(values):
        if len(undisturbed) == baseline_count:
            break
        known = _baseline(undisturbed)
        limit = None if known is None else known.limits_of_next()
        limits.append(limit)
        beyond = limit is not None and not limit[0] <= value <= limit[1]
        if beyond:
            signals.append(Signal(RunRule.BEYOND_LIMITS, index))
        if not beyond and index not in doubted:
            undisturbed.append(value)
    learnt = _baseline(undisturbed)
    begin = len(limits)
    if learnt is None or len(undisturbed) < baseline_count:
        return ControlChart(
            tuple(values),
            tuple(limits),
            tuple(_ranges(values, ())),
            (None,) * len(values),
            tuple(sorted(signals, key=lambda one: one.at)),
            learnt,
            fixed=False,
            restarts=tuple(sorted(index for index in restarts if 0 < index < len(values))),
        )
    watched = chart_of(values, watching, learnt, begin=begin, restarts=restarts)
    return ControlChart(
        watched.values,
        (*limits, *watched.limits[begin:]),
        tuple(_ranges(values, watched.restarts)),
        watched.smoothed,
        tuple(sorted((*signals, *watched.signals), key=lambda one: one.at)),
        learnt,
        fixed=True,
        restarts=watched.restarts,
    )


def _ranges(values: Sequence[float], restarts: Collection[int]) -> Iterator[float | None]:
    """From the value before, also while the limits were learnt; none across a look."""
    for index, moved in enumerate((None, *moving_ranges(values))[: len(values)]):
        yield None if index in restarts else moved


def _baseline(undisturbed: Sequence[float]) -> Baseline | None:
    """What is known of undisturbed values; None for too few, or where none has ever moved by a step of the scale."""
    if len(undisturbed) < FEWEST:
        return None
    known = Baseline.of(undisturbed)
    return known if known.mean_range > 0 else None


def _beyond_uncertainty(values: Sequence[float], expanded: Sequence[float]) -> list[Signal]:
    """E number above 1 against the first value (ISO 13528, from memory).

    Both were measured on one rig, whose own share counts twice: what speaks here is real.
    """
    return [
        Signal(UNCERTAINTY_RULE, index)
        for index, (value, own) in enumerate(zip(values, expanded, strict=True))
        if abs(value - values[0]) > math.hypot(own, expanded[0])
    ]
