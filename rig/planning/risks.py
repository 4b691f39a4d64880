"""What the checks of a set point may decide wrongly, given how the units of a type spread (JCGM 106)."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import lru_cache

from rig.planning.checks import Zone
from rig.planning.grounds import PointRisk
from rig.planning.plan import Check, Requirement
from rig.statistics.conformity import (
    Interval,
    Process,
    bends_at,
    global_consumer_risk,
    global_producer_risk,
)
from rig.statistics.edge_checks import EdgeChecks, EdgeRisks, Outcome
from rig.statistics.numeric import integral, normal_below
from sequences.datasheet import Sensing
from sequences.words import SetPoint

_PROVES = {
    SetPoint.NEAR: (Requirement.INNER_NOT_NEAR, Requirement.INNER_NOT_FAR),
    SetPoint.FAR: (Requirement.OUTER_NOT_FAR, Requirement.OUTER_NOT_NEAR),
    SetPoint.ONLY: (Requirement.OUTER_NOT_FAR, Requirement.OUTER_NOT_NEAR),
}
# What a data sheet gives as the largest error holds for 95 % of units: two standard deviations (common practice).
_DEVIATIONS = 2.0


def spread_share(sensing: Sensing) -> float:
    """Standard deviation of the operate points of a type's units about the taught distance, over that distance."""
    percent = sensing.teach_error_percent or sensing.repeat_accuracy_percent
    return percent / 100 / _DEVIATIONS


def point_risk(point: SetPoint, at_mm: float, zone: Zone, checks: tuple[Check, ...]) -> PointRisk:
    """The risks of one set point on the bench."""
    guard_mm = zone.rule_guard(at_mm)
    doubt_mm = zone.doubt.standard_mm(at_mm + zone.tolerance)
    edge = EdgeChecks(zone.tolerance, doubt_mm, guard_mm)
    spread_mm = spread_share(zone.sensing) * at_mm
    outside, inside = edge.outcome(zone.tolerance * (1 + 1e-9)), edge.outcome(zone.tolerance * (1 - 1e-9))
    risks = _risks(zone.tolerance, doubt_mm, guard_mm, spread_mm)
    return PointRisk(
        point=point,
        spread_mm=spread_mm,
        doubt_mm=doubt_mm,
        guard_mm=guard_mm,
        passes_at_limit=outside.good,
        fails_at_limit=inside.bad,
        passed_outside=risks.passed_outside,
        failed_inside=risks.failed_inside,
        undecided=risks.undecided,
        why_open=tuple(_open_sides(point, checks)),
    )


def measured_risk(point: SetPoint, at_mm: float, zone: Zone) -> PointRisk:
    """The risks of a set point on the bench whose edge is measured, as finely as the rig can where that decides."""
    doubt_mm, guard_mm = zone.proof.standard_mm(at_mm + zone.tolerance), zone.rule_guard(at_mm)
    spread_mm, limits = spread_share(zone.sensing) * at_mm, Interval(-zone.tolerance, zone.tolerance)
    at_limit = normal_below(-guard_mm / doubt_mm)
    risks = _measured_risks(limits, doubt_mm, guard_mm, spread_mm)
    return PointRisk(
        point=point,
        spread_mm=spread_mm,
        doubt_mm=doubt_mm,
        guard_mm=guard_mm,
        passes_at_limit=at_limit,
        fails_at_limit=at_limit,
        passed_outside=risks.passed_outside,
        failed_inside=risks.failed_inside,
        undecided=risks.undecided,
        why_open=(),
    )


@lru_cache(maxsize=512)
def _measured_risks(limits: Interval, doubt_mm: float, guard_mm: float, spread_mm: float) -> EdgeRisks:
    accepted, not_rejected = limits.guarded(guard_mm), limits.guarded(-guard_mm)
    units = Process.normal(0.0, spread_mm)

    def open_share(mm: float) -> float:
        return max(0.0, not_rejected.probability(mm, doubt_mm) - accepted.probability(mm, doubt_mm))

    return EdgeRisks(
        passed_outside=global_consumer_risk(units, doubt_mm, limits, accepted),
        failed_inside=global_producer_risk(units, doubt_mm, limits, not_rejected),
        undecided=units.expectation(open_share, bends_at((accepted, not_rejected), doubt_mm)),
    )


def _open_sides(point: SetPoint, checks: tuple[Check, ...]) -> Iterator[str]:
    for requirement in _PROVES[point]:
        made = next((check for check in checks if check.requirement is requirement), None)
        if made is None or made.proof_mm is None:
            yield f"{requirement}: no position in reach could prove a unit bad"


@lru_cache(maxsize=512)
def _risks(tolerance_mm: float, doubt_mm: float, guard_mm: float, spread_mm: float) -> EdgeRisks:
    """Shares of wrong and open verdicts; each verdict is worked out once for all three of them."""
    edge = EdgeChecks(tolerance_mm, doubt_mm, guard_mm)
    units = Process.normal(0.0, spread_mm)
    known: dict[float, Outcome] = {}

    def outcome(at_mm: float) -> Outcome:
        if at_mm not in known:
            known[at_mm] = edge.outcome(at_mm)
        return known[at_mm]

    def share(of: Callable[[float], float]) -> float:
        # Either side of the set point is the mirror of the other.
        return 2 * integral(lambda mm: units.density(mm) * of(mm), _bends(edge, spread_mm))

    return EdgeRisks(
        passed_outside=share(lambda mm: outcome(mm).good if mm > tolerance_mm else 0.0),
        failed_inside=share(lambda mm: 0.0 if mm > tolerance_mm else outcome(mm).bad),
        undecided=share(lambda mm: outcome(mm).undecided),
    )


def _bends(edge: EdgeChecks, spread_mm: float) -> list[float]:
    last_mm = 9 * spread_mm
    turns = [edge.tolerance_mm] + [
        edge.tolerance_mm + shift + scale * edge.doubt_mm
        for shift in (-edge.guard_mm, edge.guard_mm)
        for scale in (-5, 0, 5)
    ]
    return sorted({0.0, 2 * spread_mm, 5 * spread_mm, last_mm, *(mm for mm in turns if 0 < mm < last_mm)})
