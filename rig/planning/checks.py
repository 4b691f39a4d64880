"""Where the output is read, so that a right reading proves a set point and a wrong one condemns it.

The target itself stands with an error (the guard). A check position lies inside the tolerance by the
guard: a unit that answers rightly there is inside tolerance for sure. If it answers wrongly, a second
position outside the tolerance by the guard tells the bad unit from the one that cannot be decided
(guarded acceptance and guarded rejection, JCGM 106:2012 clause 8).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rig.planning.plan import Approach, Check, Requirement
from sequences.datasheet import Sensing
from sequences.order import CheckPlan, Setting
from sequences.words import SetPoint
from wiring.profile import TargetProfile
from wiring.terms import DetectionMode, OutputFunction

# Share of the range at which a full-range unit must still detect the standard target.
RANGE_END_SHARE = 0.95


@dataclass(frozen=True, slots=True)
class Zone:
    """The distances of one setting on one rig, all in mm from the sensing face.

    Attributes:
        inner: the near set point, None where the zone begins at the blind zone.
        outer: the far or only set point, None where it ends with the range.

    """

    inner: float | None
    outer: float | None
    tolerance: float
    sensing: Sensing
    nearest: float
    farthest: float
    placement: float

    def guard(self, at_mm: float) -> float:
        """How far the target may stand from where it should, as the unit sees it."""
        return self.placement + at_mm * self.sensing.repeat_accuracy_percent / 200

    @property
    def start(self) -> float:
        """First distance that a unit inside tolerance surely sees as detected."""
        if self.inner is not None:
            return self.inner + self.tolerance
        return self.blind_end

    @property
    def end(self) -> float:
        """Last distance that a unit inside tolerance surely sees as detected."""
        if self.outer is not None:
            return self.outer - self.tolerance
        return min(self.sensing.range_mm * RANGE_END_SHARE, self.farthest)

    @property
    def blind_end(self) -> float:
        """A distance just clear of the blind zone."""
        blind_mm = self.sensing.blind_zone_mm
        return max(blind_mm + max(2 * self.guard(blind_mm), 2.0), self.nearest)


def zone_of(setting: Setting, sensing: Sensing, target: TargetProfile) -> Zone:
    """The zone of a setting."""
    points_mm = setting.set_points_mm
    outer_mm = points_mm.get(SetPoint.ONLY, points_mm.get(SetPoint.FAR))
    return Zone(
        inner=points_mm.get(SetPoint.NEAR),
        outer=outer_mm,
        tolerance=setting.tolerance_mm or 0.0,
        sensing=sensing,
        nearest=target.nearest_mm,
        farthest=target.farthest_mm,
        placement=target.placement_mm,
    )


def place_checks(
    setting: Setting, zone: Zone, wanted: CheckPlan
) -> tuple[tuple[Check, ...], tuple[str, ...]]:
    """Every check of a setting in the order in which the target moves least, and what had to be left out."""
    inverse = setting.output_function is OutputFunction.NC
    checks: list[Check] = []
    left_out: list[str] = []
    for check in _all_checks(setting.mode, zone, wanted):
        if check.position_mm is not None and not zone.nearest <= check.position_mm <= zone.farthest:
            left_out.append(f"{check.requirement} is not checked: {check.position_mm:.1f} mm is out of reach")
        else:
            checks.append(_oriented(check, zone, inverse))
    return tuple(checks), tuple(left_out)


def _oriented(check: Check, zone: Zone, inverse: bool) -> Check:
    proof_mm = check.proof_mm
    if proof_mm is not None and not zone.nearest <= proof_mm <= zone.farthest:
        proof_mm = None
    return Check(
        check.requirement, check.position_mm, check.approach, check.expected_on is not inverse, proof_mm
    )


def _all_checks(mode: DetectionMode, zone: Zone, wanted: CheckPlan) -> Iterator[Check]:
    yield Check(Requirement.CLEAR_BEAM, None, Approach.FROM_CLEAR, expected_on=False)
    yield _certain(
        Requirement.DETECTS_INSIDE, (zone.start + zone.end) / 2, Approach.FROM_CLEAR, detected=True
    )
    if zone.outer is not None:
        yield from _outer_edge(zone, zone.outer)
    if zone.inner is not None:
        yield from _inner_edge(zone, zone.inner)
    if wanted.near_blind_zone and (
        zone.inner is None or zone.blind_end < _inner_release_mm(zone, zone.inner)
    ):
        yield _certain(
            Requirement.BLIND_END, zone.blind_end, Approach.FROM_CLEAR, detected=zone.inner is None
        )
    if mode is DetectionMode.FULL_RANGE:
        yield _certain(Requirement.RANGE_END, zone.end, Approach.FROM_CLEAR, detected=True)


def _certain(requirement: Requirement, at_mm: float, approach: Approach, *, detected: bool) -> Check:
    return Check(requirement, at_mm, approach, expected_on=detected, proof_mm=at_mm)


def _outer_edge(zone: Zone, edge_mm: float) -> Iterator[Check]:
    inside_mm = zone.tolerance - zone.guard(edge_mm)
    outside_mm = zone.tolerance + zone.guard(edge_mm)
    yield Check(
        Requirement.OUTER_NOT_FAR, edge_mm + inside_mm, Approach.FROM_CLEAR, False, edge_mm + outside_mm
    )
    yield Check(
        Requirement.OUTER_NOT_NEAR, edge_mm - inside_mm, Approach.FROM_LAST, True, edge_mm - outside_mm
    )
    release_mm = edge_mm + outside_mm + zone.sensing.hysteresis_largest_mm(edge_mm)
    yield _certain(Requirement.OUTER_RELEASE, release_mm, Approach.FROM_LAST, detected=False)


def _inner_release_mm(zone: Zone, edge_mm: float) -> float:
    return edge_mm - zone.tolerance - zone.guard(edge_mm) - zone.sensing.hysteresis_largest_mm(edge_mm)


def _inner_edge(zone: Zone, edge_mm: float) -> Iterator[Check]:
    inside_mm = zone.tolerance - zone.guard(edge_mm)
    outside_mm = zone.tolerance + zone.guard(edge_mm)
    yield Check(
        Requirement.INNER_NOT_NEAR, edge_mm - inside_mm, Approach.FROM_CLEAR, False, edge_mm - outside_mm
    )
    yield Check(
        Requirement.INNER_NOT_FAR, edge_mm + inside_mm, Approach.FROM_LAST, True, edge_mm + outside_mm
    )
    release_mm = _inner_release_mm(zone, edge_mm)
    if release_mm > zone.sensing.blind_zone_mm:
        yield _certain(Requirement.INNER_RELEASE, release_mm, Approach.FROM_LAST, detected=False)
