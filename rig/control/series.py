"""The chart of a check unit: its limits are learnt from its first measurements, and hold from then on."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field

from rig.control.chart import (
    BASELINE,
    UNCERTAINTY_RULE,
    Baseline,
    ControlChart,
    Signal,
    Watching,
    chart_of,
    moving_ranges,
)
from wiring.check_unit import RunRule

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
    doubts = _beyond_uncertainty(values, expanded)
    learnt = _learn(values, {one.at for one in doubts}, baseline_count)
    begin, baseline = len(learnt.limits), _baseline(learnt.undisturbed)
    looked = tuple(sorted(index for index in restarts if 0 < index < len(values)))
    fixed = baseline is not None and len(learnt.undisturbed) == baseline_count
    later = chart_of(values, watching, baseline, begin=begin, restarts=looked) if fixed else None
    signals = (*doubts, *learnt.signals, *(later.signals if later else ()))
    return ControlChart(
        tuple(values),
        (*learnt.limits, *(later.limits[begin:] if later else ())),
        tuple(_ranges(values, looked)),
        later.smoothed if later else (None,) * len(values),
        tuple(sorted(signals, key=lambda one: one.at)),
        baseline,
        fixed=fixed,
        restarts=looked,
    )


@dataclass(slots=True)
class _Learnt:
    """What the first values have taught: those that nothing has disturbed, and the limits that each was held to."""

    undisturbed: list[float] = field(default_factory=list)
    limits: list[tuple[float, float] | None] = field(default_factory=list)
    signals: list[Signal] = field(default_factory=list)


def _learn(values: Sequence[float], doubted: Collection[int], enough: int) -> _Learnt:
    """Take values in until there are enough."""
    learnt = _Learnt()
    for index, value in enumerate(values):
        if len(learnt.undisturbed) == enough:
            break
        known = _baseline(learnt.undisturbed)
        limit = None if known is None else known.limits_of_next()
        learnt.limits.append(limit)
        if limit is not None and not limit[0] <= value <= limit[1]:
            learnt.signals.append(Signal(RunRule.BEYOND_LIMITS, index))
        elif index not in doubted:
            learnt.undisturbed.append(value)
    return learnt


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
