"""Where the output is read, so that a right reading proves a set point and a wrong one condemns it.

A reading is only worth its uncertainty. Its guard follows from that by the decision rule of the order: the expanded
uncertainty itself for guarded acceptance. A check position lies inside the tolerance by the guard: a unit that
answers rightly there is inside tolerance. If it answers wrongly, a second position outside the tolerance by the
guard tells the bad unit from the one that cannot be decided (JCGM 106:2012 clause 8). Positions are whole
steps that can be set, rounded to the safe side. Distances here are those on the bench.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from rig.deciding.requirement import RANGE_END_SHARE
from rig.planning.budget import Doubt
from rig.planning.plan import Approach, Check, Requirement
from sequences.checks import CheckPlan
from sequences.datasheet import Sensing
from sequences.order import Setting
from sequences.words import SetPoint
from wiring.profile import TargetProfile
from wiring.saying import say
from wiring.terms import OutputFunction

# The output is read at least this far clear of the blind zone, whose end is not sharp; less where the zone is so short
# that a unit whose own one is too long would pass (common practice, no source).
_BLIND_MARGIN_MM, _LARGEST_BLIND_MARGIN = 2.0, 0.04


@dataclass(frozen=True, slots=True)
class Zone:
    """The distances of one setting on one rig, all in mm from the sensing face and as they are on the bench.

    Attributes:
        inner: the near set point, None where the zone begins at the blind zone.
        outer: the far or only set point, None where it ends with the range.
        doubt: what a single reading at a position is worth.
        proof: what the figure is worth that proves a set point; the same, where single readings do.
        guards: the guard of the order's decision rule, in expanded uncertainties.
        scale: bench distance over machine distance.

    """

    inner: float | None
    outer: float | None
    tolerance: float
    sensing: Sensing
    nearest: float
    farthest: float
    doubt: Doubt
    scale: float
    proof: Doubt
    guards: float = 1.0

    def guard(self, at_mm: float) -> float:
        """How far the target may stand from where it should, as a unit that operates at `at_mm` sees it."""
        return self.doubt.expanded_mm(at_mm)

    def edge_guard(self, point_mm: float) -> float:
        """Expanded uncertainty of a set point: that of the farthest operate point inside its tolerance."""
        return self.proof.expanded_mm(point_mm + self.tolerance)

    def rule_guard(self, point_mm: float) -> float:
        """By how much the decision rule keeps clear of the tolerance of a set point."""
        return self.guards * self.edge_guard(point_mm)

    @property
    def start(self) -> float:
        """The nearest position at which a unit inside tolerance surely detects the target."""
        if self.inner is not None:
            return self.doubt.up(self.inner + self.tolerance + self.edge_guard(self.inner))
        return self.blind_end

    @property
    def end(self) -> float:
        """The farthest position at which a unit inside tolerance surely detects the target."""
        if self.outer is not None:
            return self.doubt.down(self.outer - self.tolerance - self.edge_guard(self.outer))
        range_mm = self.sensing.range_mm
        return self.doubt.down(
            min(range_mm * RANGE_END_SHARE, range_mm - self.guard(range_mm), self.farthest)
        )

    @property
    def blind_end(self) -> float:
        """The nearest position at which the output is read: clear of the blind zone and within reach."""
        blind_mm = self.sensing.blind_zone_mm
        margin_mm = min(_BLIND_MARGIN_MM, _LARGEST_BLIND_MARGIN * blind_mm)
        clear_mm = blind_mm + max(2 * self.guard(blind_mm), margin_mm)
        return self.doubt.up(max(clear_mm, self.nearest))

    @property
    def first_point(self) -> float:
        """The nearest set point that leaves room for a check between it and the blind zone."""
        return self.proof.beyond(self.blind_end + 2 * self.tolerance) - self.tolerance

    @property
    def last_point(self) -> float:
        """The farthest set point whose tolerance lies within range and reach."""
        return min(self.sensing.range_mm, self.farthest) - self.tolerance

    @property
    def largest_tolerance(self) -> float:
        """The tolerance that leaves a single set point possible; not above zero if there never is one."""
        last_mm = min(self.sensing.range_mm, self.farthest)
        return (last_mm - self.guard(last_mm) - self.blind_end) / 2

    def smallest_tolerance(self, point_mm: float) -> float:
        """The least tolerance of a set point that the rig can prove.

        Twice its expanded uncertainty, or its guard where the rule asks for more, and the rounding.
        """
        guards = 2.0 * max(1.0, self.guards)
        return self.proof.beyond(point_mm + self.doubt.grain_mm, guards) - point_mm

    def smallest_window(self, inner_mm: float) -> float:
        """The least window from `inner_mm` on that the type can hold and the rig can prove."""
        start_mm = self.doubt.up(inner_mm + self.tolerance + self.edge_guard(inner_mm))
        outer_mm = self.proof.beyond(start_mm + 2 * self.tolerance) - self.tolerance
        return max(self.sensing.smallest_window_mm, outer_mm - inner_mm)


def zone_of(
    setting: Setting,
    sensing: Sensing,
    target: TargetProfile,
    doubt: Doubt,
    scale: float,
    proof: Doubt | None = None,
    guards: float = 1.0,
) -> Zone:
    """The zone of a setting whose distances hold at the machine; `proof` is `doubt` where left out."""
    points_mm = {point: at_mm * scale for point, at_mm in setting.set_points_mm.items()}
    outer_mm = points_mm.get(SetPoint.ONLY, points_mm.get(SetPoint.FAR))
    return Zone(
        inner=points_mm.get(SetPoint.NEAR),
        outer=outer_mm,
        tolerance=(setting.tolerance_mm or 0.0) * scale,
        sensing=sensing,
        nearest=target.nearest_mm,
        farthest=target.farthest_mm,
        doubt=doubt,
        scale=scale,
        proof=proof or doubt,
        guards=guards,
    )


def place_checks(
    output_function: OutputFunction, zone: Zone, wanted: CheckPlan, *, measured: bool = False
) -> tuple[tuple[Check, ...], tuple[str, ...]]:
    """Every check of a setting in the order in which the target moves least, and what had to be left out.

    Where edges are `measured`, no position has to prove them.
    """
    inverse = output_function is OutputFunction.NC
    checks: list[Check] = []
    left_out: list[str] = []
    for check in _all_checks(zone, wanted, measured=measured):
        why_not = _why_not(check.position_mm, zone)
        if why_not:
            left_out.append(
                say(
                    "{requirement} is not checked: {position_mm:.1f} mm is {why_not}",
                    requirement=check.requirement,
                    position_mm=check.position_mm,
                    why_not=why_not,
                )
            )
        else:
            checks.append(_oriented(check, zone, inverse))
    if zone.outer is None and zone.end == zone.doubt.down(zone.farthest):
        left_out.append(
            say("range is checked up to {end:.1f} mm only: there the reach of the target ends", end=zone.end)
        )
    return tuple(checks), tuple(left_out)


def scan_positions_mm(zone: Zone, readings: int) -> Iterator[tuple[float, ...]]:
    """From within the tolerance of each set point out of it, near one first; without a far one, out to the range's end.

    A target that goes out by these steps passes the middle between operate and release point of every unit that is
    inside tolerance. A unit of its type's repeat accuracy changes its output once on the way, thanks to its
    differential travel; one that scatters as widely as half its travel changes its mind over and over.
    """
    if readings < 2:
        return
    for first_mm, last_mm in _scans(zone):
        step_mm = (last_mm - first_mm) / (readings - 1)
        positions_mm = (zone.doubt.nearest(first_mm + index * step_mm) for index in range(readings))
        yield tuple(mm for mm in positions_mm if not _why_not(mm, zone))


def _scans(zone: Zone) -> Iterator[tuple[float, float]]:
    """First and last position of each way out."""
    for edge_mm, outwards in ((zone.inner, -1), (zone.outer, 1)):
        if edge_mm is not None:
            inside_mm = zone.tolerance - zone.edge_guard(edge_mm)
            middle_mm = edge_mm + outwards * zone.sensing.hysteresis_mm(edge_mm) / 2
            yield middle_mm - outwards * inside_mm, middle_mm + outwards * inside_mm
    range_mm = zone.sensing.range_mm
    last_mm = min(range_mm - zone.guard(range_mm), zone.farthest)
    # Beyond its range a unit may do what it likes.
    if zone.outer is None and last_mm > zone.end:
        yield zone.end, last_mm


def _why_not(at_mm: float | None, zone: Zone) -> str:
    if at_mm is None:
        return ""
    if at_mm < zone.sensing.blind_zone_mm + zone.guard(at_mm):
        return "in the blind zone"
    return "" if zone.nearest <= at_mm <= zone.farthest else "out of reach"


def _oriented(check: Check, zone: Zone, inverse: bool) -> Check:
    proof_mm = None if _why_not(check.proof_mm, zone) else check.proof_mm
    machine_mm = None if check.position_mm is None else check.position_mm / zone.scale
    return replace(
        check, expected_on=check.expected_on is not inverse, proof_mm=proof_mm, machine_mm=machine_mm
    )


def _all_checks(zone: Zone, wanted: CheckPlan, *, measured: bool) -> Iterator[Check]:
    yield _certain(
        Requirement.DETECTS_INSIDE,
        zone.doubt.down((zone.start + zone.end) / 2),
        Approach.FROM_CLEAR,
        detected=True,
    )
    yield Check(Requirement.CLEAR_BEAM, None, Approach.FROM_CLEAR, expected_on=False)
    if zone.outer is not None and not measured:
        yield from _outer_edge(zone, zone.outer)
    if zone.inner is not None and not measured:
        yield from _inner_edge(zone, zone.inner)
    if wanted.near_blind_zone:
        yield _certain(
            Requirement.BLIND_END, zone.blind_end, Approach.FROM_CLEAR, detected=zone.inner is None
        )
    if zone.outer is None:
        yield _certain(Requirement.RANGE_END, zone.end, Approach.FROM_CLEAR, detected=True)


def _certain(requirement: Requirement, at_mm: float, approach: Approach, *, detected: bool) -> Check:
    return Check(requirement, at_mm, approach, expected_on=detected, proof_mm=at_mm)


def _outer_edge(zone: Zone, edge_mm: float) -> Iterator[Check]:
    inside_mm = zone.tolerance - zone.rule_guard(edge_mm)
    outside_mm = zone.tolerance + zone.rule_guard(edge_mm)
    yield Check(
        Requirement.OUTER_NOT_FAR,
        zone.doubt.down(edge_mm + inside_mm),
        Approach.FROM_CLEAR,
        expected_on=False,
        proof_mm=zone.doubt.up(edge_mm + outside_mm),
    )
    yield Check(
        Requirement.OUTER_NOT_NEAR,
        zone.doubt.up(edge_mm - inside_mm),
        Approach.FROM_LAST,
        expected_on=True,
        proof_mm=zone.doubt.down(edge_mm - outside_mm),
    )
    travel_mm = zone.sensing.hysteresis_largest_mm(edge_mm + zone.tolerance)
    yield Check(
        Requirement.OUTER_RELEASE,
        zone.doubt.down(edge_mm + inside_mm + travel_mm),
        Approach.FROM_LAST,
        expected_on=False,
        proof_mm=zone.doubt.up(edge_mm + outside_mm + travel_mm),
    )


def _inner_edge(zone: Zone, edge_mm: float) -> Iterator[Check]:
    inside_mm = zone.tolerance - zone.rule_guard(edge_mm)
    outside_mm = zone.tolerance + zone.rule_guard(edge_mm)
    yield Check(
        Requirement.INNER_NOT_NEAR,
        zone.doubt.up(edge_mm - inside_mm),
        Approach.FROM_CLEAR,
        expected_on=False,
        proof_mm=zone.doubt.down(edge_mm - outside_mm),
    )
    yield Check(
        Requirement.INNER_NOT_FAR,
        zone.doubt.down(edge_mm + inside_mm),
        Approach.FROM_LAST,
        expected_on=True,
        proof_mm=zone.doubt.up(edge_mm + outside_mm),
    )
    travel_mm = zone.sensing.hysteresis_largest_mm(edge_mm - zone.tolerance)
    yield Check(
        Requirement.INNER_RELEASE,
        zone.doubt.up(edge_mm - inside_mm - travel_mm),
        Approach.FROM_LAST,
        expected_on=False,
        proof_mm=zone.doubt.down(edge_mm - outside_mm - travel_mm),
    )
