"""Chooses set points and tolerance: in the middle of their room, with as much tolerance as serves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from rig.planning.case import Case
from rig.planning.grounds import Reason
from rig.planning.refusal import Refusal, at_least
from rig.planning.rooms import first_point_mm, rooms_of
from rig.planning.spans import Pick, Span, bench_ends_mm, for_the_widest_window, in_the_middle, spans_of
from sequences.order import POINT_KEYS, Setting
from sequences.words import SET_POINTS, SetPoint

# The finest tolerance that can be proven leaves every second unit undecided; twice as much hardly any.
_EASES = {2.0: "twice", 1.5: "one and a half times", 1.25: "a quarter more than"}


@dataclass(frozen=True, slots=True)
class Placed:
    """A whole setting with its reasons, or what stands against any in its mode."""

    setting: Setting | None
    reasons: tuple[Reason, ...] = ()
    refusals: tuple[Refusal, ...] = ()


def place_points(case: Case, part: Setting) -> Placed:
    """Fill in the set points and the tolerance that a setting with a mode leaves out."""
    wanted = () if part.mode is None else SET_POINTS[part.mode]
    if not wanted:
        return Placed(part.model_copy(update={"tolerance_mm": None}))
    if not part.lacks_points:
        return _with_tolerance(case, part, part.set_points_mm, _ordered(part))
    placed = _spread(case, part, wanted, in_the_middle, "midway")
    if placed.setting is None or _wide_enough(case, placed.setting):
        return placed
    widest = _spread(case, part, wanted, for_the_widest_window, "for the widest window,")
    return placed if widest.setting is None else widest


def _spread(case: Case, part: Setting, wanted: tuple[SetPoint, ...], pick: Pick, how: str) -> Placed:
    spans, refusals = spans_of(case, part, wanted, pick)
    if refusals:
        return Placed(None, (), refusals)
    points_mm = {point: pick(point, span) for point, span in spans.items()}
    return _with_tolerance(case, part, points_mm, _reasons(points_mm, spans, how))


def _with_tolerance(
    case: Case, part: Setting, points_mm: Mapping[SetPoint, float], reasons: tuple[Reason, ...]
) -> Placed:
    keys = {POINT_KEYS[point]: at_mm for point, at_mm in points_mm.items()}
    if part.tolerance_mm is not None:
        ordered = Reason("tolerance", f"{part.tolerance_mm:g} mm", "as ordered", proposed=False)
        return Placed(part.model_copy(update=keys), (*reasons, ordered))
    tolerance_mm, why = _tolerance_mm(case, points_mm)
    whole = part.model_copy(update={**keys, "tolerance_mm": tolerance_mm})
    return Placed(whole, (*reasons, Reason("tolerance", f"{tolerance_mm:g} mm", why, proposed=True)))


def _tolerance_mm(case: Case, points_mm: Mapping[SetPoint, float]) -> tuple[float, str]:
    finest_mm = max(case.reach(point).finest_mm(at_mm) for point, at_mm in points_mm.items())
    least = f"the finest that the rig can prove and the air leaves is {finest_mm:.2f} mm"
    for ease, words in _EASES.items():
        eased_mm = math.ceil(2 * ease * finest_mm) / 2
        if _fits(case, points_mm, eased_mm):
            return eased_mm, f"{words} the finest, so that few units are left undecided: {least}"
    for decimals in (1, 2):
        rounded_mm = at_least(finest_mm, decimals)
        if _fits(case, points_mm, rounded_mm):
            return rounded_mm, f"the room leaves no more: {least}"
    return finest_mm, f"the room leaves no more: {least}"


def _fits(case: Case, points_mm: Mapping[SetPoint, float], tolerance_mm: float) -> bool:
    rooms, (_, last_mm) = rooms_of(case.need), bench_ends_mm(case)
    distances_mm = list(points_mm.values())
    room_mm = min(distances_mm[0], (distances_mm[-1] - distances_mm[0]) / 2 or math.inf)
    return (
        tolerance_mm < room_mm
        and distances_mm[-1] + tolerance_mm <= last_mm
        and distances_mm[0]
        >= first_point_mm(case.reach(SetPoint.NEAR), bench_ends_mm(case)[0], lambda _: tolerance_mm)
        and all(
            clearance.spare_mm >= 0
            for point, at_mm in points_mm.items()
            for clearance in rooms[point].clearances(case.reach(point), at_mm, tolerance_mm)
        )
    )


def _wide_enough(case: Case, whole: Setting) -> bool:
    zone = case.zone(whole)
    if zone.inner is None or zone.outer is None:
        return True
    return zone.outer - zone.inner >= zone.smallest_window(zone.inner)


def _ordered(part: Setting) -> tuple[Reason, ...]:
    return tuple(
        Reason(f"set point {point}", f"{at_mm:g} mm", "as ordered", proposed=False)
        for point, at_mm in part.set_points_mm.items()
    )


def _reasons(
    points_mm: Mapping[SetPoint, float], spans: Mapping[SetPoint, Span], how: str
) -> tuple[Reason, ...]:
    return tuple(
        Reason(
            f"set point {point}",
            f"{at_mm:g} mm",
            f"{how} between {spans[point].nearest_mm:.1f} and {spans[point].farthest_mm:.1f} mm, "
            f"which keep clear of {spans[point].words}",
            proposed=True,
        )
        for point, at_mm in points_mm.items()
    )
