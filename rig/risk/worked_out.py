"""What is to be expected in closed form, for units and benches as the rates assume them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from hal.simulated.faults import UnitFaultKind
from rig.deciding.evidence import availability_measured
from rig.deciding.requirement import Figure
from rig.deciding.rule import standard_of
from rig.planning.plan import Check, Requirement
from rig.risk.axis import Axis, Risks, axes_of
from rig.risk.case import Case
from rig.risk.draw import NO_FAULT
from rig.risk.looks import outwards
from rig.risk.rates import UnitFaultRate
from rig.risk.truth import look_alike
from rig.statistics.numeric import normal_below
from sequences.words import SetPoint
from wiring.terms import Verification

# Every check of a plan reads the output under a unit with one of these, and none of them looks like a sound one.
_FOUND_FOR_SURE = (
    UnitFaultKind.DEAD,
    UnitFaultKind.OVER_CURRENT,
    UnitFaultKind.WRONG_OUTPUT_TYPE,
    UnitFaultKind.REFUSES_TEACH,
)
_TRAVEL_STEPS, _FACTOR_STEPS = 400, 9
_TRAVEL_FACTORS = (0.8, 1.2)  # units of one kind differ so much in their differential travel
_DELAY_FACTORS = (0.7, 1.0)  # and so much in their time delay before availability


@dataclass(frozen=True, slots=True)
class Stated:
    """Shares of all units with one fault, or with none.

    Attributes:
        escapes: bad and called good.
        unseen: the same, of units in which no check position could tell what is bad.
        false_rejections: sound and called bad.
        doubts: sound and left undecided.

    """

    escapes: float = 0.0
    unseen: float = 0.0
    false_rejections: float = 0.0
    doubts: float = 0.0


def worked_out(case: Case) -> Mapping[str, Stated]:
    """What is to be expected of units without a fault, and with each fault of which it can be worked out."""
    axes, by_positions = tuple(axes_of(case)), case.plan.method is Verification.POSITIONS
    found = {NO_FAULT: _with_late_starters(case, _together([axis.risks(axis.sound()) for axis in axes]))}
    stored: list[tuple[float, Stated]] = []
    for rate in (one for one in case.rates.unit_fault if one.share):
        if rate.kind in _FOUND_FOR_SURE:
            found[str(rate.kind)] = Stated()
        elif rate.kind is UnitFaultKind.WRONG_KIND:
            found[str(rate.kind)] = Stated(unseen=_alike(case))
        elif rate.kind is UnitFaultKind.WIDE_HYSTERESIS and axes and by_positions:
            found[str(rate.kind)] = Stated(unseen=_unseen_travel(case, axes, rate))
        elif rate.kind is UnitFaultKind.STORES_WRONGLY and axes:
            stored.append((rate.share, _stored_wrongly(case, axes, rate)))
    if stored:
        found[str(UnitFaultKind.STORES_WRONGLY)] = _mean(stored)
    return found


def _together(parts: Sequence[Risks]) -> Stated:
    """The risks of several set points add up, being small."""
    return Stated(
        escapes=sum(one.escapes for one in parts),
        false_rejections=sum(one.false_rejections for one in parts),
        doubts=sum(one.doubts for one in parts),
    )


def _with_late_starters(case: Case, stated: Stated) -> Stated:
    """Beside the set points, sound units whose delay before availability lies too near its limit to tell."""
    measuring = case.plan.measuring
    limit_s = (
        next((one.high for one in measuring.required if one.figure is Figure.AVAILABILITY), None)
        if measuring
        else None
    )
    if limit_s is None:
        return stated
    delay = availability_measured(limit_s, case.rig.nest[0].supply_doubt_s)
    guard_s = case.plan.decision.guard(standard_of(delay), delay.expanded)
    shortest_s, longest_s = (factor * case.kind.availability_s for factor in _DELAY_FACTORS)
    open_s = min(longest_s, limit_s + guard_s) - max(shortest_s, limit_s - guard_s)
    return replace(stated, doubts=stated.doubts + max(0.0, open_s) / (longest_s - shortest_s))


def _stored_wrongly(case: Case, axes: Sequence[Axis], rate: UnitFaultRate) -> Stated:
    if rate.offset_tolerances is None:
        return Stated()
    low_mm, high_mm = (end * case.tolerance_mm for end in rate.offset_tolerances)
    # Both ends of a window are off by the same, and the farther one spreads more: it tells the unit.
    axis = axes[-1]
    return _together([axis.risks(axis.evenly_off(low_mm, high_mm))])


def _alike(case: Case) -> float:
    others = [name for name in case.kinds if name != case.sensor_type.name]
    return sum(look_alike(case, name) for name in others) / len(others)


def _unseen_travel(case: Case, axes: Sequence[Axis], rate: UnitFaultRate) -> float:
    """Chance that a differential travel larger than the type's still lets go where the release point is checked."""
    low, high = rate.percent or (6.0, 6.0)
    passed = 0.0
    for percent in _midpoints(low, high, _TRAVEL_STEPS):
        for factor in _midpoints(*_TRAVEL_FACTORS, _FACTOR_STEPS):
            passed += _passes_with(case, axes, percent, factor)
    return passed / (_TRAVEL_STEPS * _FACTOR_STEPS)


def _passes_with(case: Case, axes: Sequence[Axis], percent: float, factor: float) -> float:
    sensing, kind = case.sensor_type.sensing, case.kind
    least_mm = kind.hysteresis_min_mm * percent / kind.hysteresis_percent
    chance, wide = 1.0, False
    for axis in axes:
        travel_mm = max(least_mm, factor * percent / 100 * axis.point_mm)
        wide = wide or travel_mm > sensing.hysteresis_largest_mm(axis.point_mm)
        left_mm = _release_mm(case.plan.checks, axis.point, axis.point_mm) - travel_mm
        chance *= normal_below(left_mm / math.hypot(axis.spread_mm, case.noise_mm(axis.point_mm)))
    return chance if wide else 0.0


def _release_mm(checks: Sequence[Check], point: SetPoint, point_mm: float) -> float:
    """How far out of the zone the release point of a set point is checked."""
    wanted = Requirement.INNER_RELEASE if point is SetPoint.NEAR else Requirement.OUTER_RELEASE
    at_mm = next((check.position_mm for check in checks if check.requirement is wanted), None)
    return math.inf if at_mm is None else outwards(point) * (at_mm - point_mm)


def _midpoints(low: float, high: float, steps: int) -> Iterator[float]:
    return (low + (high - low) * (index + 0.5) / steps for index in range(steps))


def _mean(parts: Sequence[tuple[float, Stated]]) -> Stated:
    total = sum(share for share, _ in parts)

    def mean(key: str) -> float:
        return sum(share * float(getattr(one, key)) for share, one in parts) / total

    return Stated(*(mean(key) for key in ("escapes", "unseen", "false_rejections", "doubts")))
