"""What a plan achieves over all shares of bad units: operating characteristic, outgoing quality, effort.

Outgoing quality and effort are those of rectifying inspection: a rejected lot is sorted whole, bad units that are found
are taken out and not replaced by bad ones. AOQ = Pa * p * (N - n) / N and ATI = n + (1 - Pa) * (N - n), as in
NIST/SEMATECH e-Handbook 6.2.3.2; for a plan without a fixed sample n is the average over the lots it accepts.
"""

from __future__ import annotations

from dataclasses import dataclass

from rig.sampling.plan import Plan

_GOLDEN = (5**0.5 - 1) / 2
_STEPS = 40
_POINTS = 50
# A lot that is accepted one time in a hundred or less is hardly ever accepted.
_HARDLY = 0.01
_READS_WELL = (
    *(0.001, 0.002, 0.003, 0.005, 0.01, 0.02, 0.03, 0.05, 0.08),
    *(0.1, 0.15, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0),
)


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """What happens to lots with one share of bad units.

    Attributes:
        accepted: the chance that such a lot is accepted.
        outgoing: the share of bad units that is left on average, once rejected lots have been sorted.
        inspected: units tested for a lot on average, those of sorted lots included.

    """

    share_bad: float
    accepted: float
    outgoing: float
    inspected: float


def point_at(plan: Plan, lot_size: int, share_bad: float) -> CurvePoint:
    """One point of the curves for lots of a size."""
    accepted = plan.accepts_with(share_bad)
    sample = min(plan.tested_if_accepted(share_bad), lot_size)
    return CurvePoint(
        share_bad,
        accepted,
        accepted * share_bad * (lot_size - sample) / lot_size,
        accepted * sample + (1 - accepted) * lot_size,
    )


def curve_of(plan: Plan, lot_size: int) -> tuple[CurvePoint, ...]:
    """Evenly spaced points from 0 to where hardly a lot is accepted."""
    end = worst_shown(plan)
    return tuple(point_at(plan, lot_size, end * step / _POINTS) for step in range(_POINTS + 1))


def outgoing_limit(plan: Plan, lot_size: int) -> CurvePoint:
    """Where the average outgoing quality is worst (AOQL)."""
    coarse = curve_of(plan, lot_size)
    peak = max(range(len(coarse)), key=lambda at: coarse[at].outgoing)
    low, high = coarse[max(peak - 1, 0)].share_bad, coarse[min(peak + 1, len(coarse) - 1)].share_bad
    for _ in range(_STEPS):
        left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        if point_at(plan, lot_size, left).outgoing < point_at(plan, lot_size, right).outgoing:
            low = left
        else:
            high = right
    return point_at(plan, lot_size, (low + high) / 2)


def worst_shown(plan: Plan) -> float:
    """A share of bad units, rounded up to one that reads well, with which hardly a lot is accepted; at most 1."""
    return next((end for end in _READS_WELL if plan.accepts_with(end) <= _HARDLY), 1.0)


def share_at(plan: Plan, chance: float) -> float:
    """The share of bad units at which a lot is accepted with this chance; 1 where every lot is accepted."""
    low, high = 0.0, 1.0
    if plan.accepts_with(high) > chance:
        return high
    while low < (middle := (low + high) / 2) < high and high - low > 1e-9 * high:
        low, high = (middle, high) if plan.accepts_with(middle) > chance else (low, middle)
    return high
