"""Chooses set points and tolerance: in the middle of their room, with as much tolerance as serves."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from rig.planning.case import Case
from rig.planning.grounds import Reason
from rig.planning.refusal import Refusal, at_least, at_most, too_little, too_much
from rig.planning.rooms import (
    Reach,
    Room,
    Tolerance,
    farthest_point_mm,
    first_point_mm,
    last_point_mm,
    nearest_point_mm,
    rooms_of,
)
from sequences.order import POINT_KEYS, Setting
from sequences.words import SET_POINTS, SetPoint

# Where nothing stands behind (or in front), a set point keeps this share of its distance from the objects: near
# enough that nobody walks through the beam behind them (common practice, no source).
_OPEN_SHARE = 0.1
# The finest tolerance that can be proven leaves every second unit undecided; twice as much hardly any.
_EASES = {2.0: "twice", 1.5: "one and a half times", 1.25: "a quarter more than"}


@dataclass(frozen=True, slots=True)
class Span:
    """Between which distances a set point keeps clear of everything, and of what, in words."""

    nearest_mm: float
    farthest_mm: float
    words: str

    def middle_mm(self) -> float:
        """The middle, in whole millimetres where the span holds any, else in tenths."""
        middle_mm = (self.nearest_mm + self.farthest_mm) / 2
        for grain_mm in (1.0, 0.1):
            whole_mm = round(round(middle_mm / grain_mm) * grain_mm, 1)
            if self.nearest_mm <= whole_mm <= self.farthest_mm:
                return whole_mm
        return middle_mm


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
    spans, refusals = _spans(case, part, wanted)
    if refusals:
        return Placed(None, (), refusals)
    points_mm = {point: span.middle_mm() for point, span in spans.items()}
    placed = _with_tolerance(case, part, points_mm, _reasons(points_mm, spans, "midway"))
    if placed.setting is None or _wide_enough(case, placed.setting):
        return placed
    ends_mm = {SetPoint.NEAR: spans[SetPoint.NEAR].nearest_mm, SetPoint.FAR: spans[SetPoint.FAR].farthest_mm}
    points_mm = {
        SetPoint.NEAR: at_least(ends_mm[SetPoint.NEAR]),
        SetPoint.FAR: at_most(ends_mm[SetPoint.FAR]),
    }
    return _with_tolerance(case, part, points_mm, _reasons(points_mm, spans, "for the widest window,"))


def _spans(
    case: Case, part: Setting, wanted: tuple[SetPoint, ...]
) -> tuple[Mapping[SetPoint, Span], tuple[Refusal, ...]]:
    spans: dict[SetPoint, Span] = {}
    floor_mm = part.tolerance_mm or 0.0
    # The outer one first: the window has one tolerance, and the finest that can be proven grows with distance.
    for point in reversed(wanted):
        reach = case.reach(point)
        tolerance = _tolerance_of(reach, part.tolerance_mm, floor_mm)
        found = _span(case, reach, rooms_of(case.need)[point], tolerance)
        if isinstance(found, Refusal):
            return {}, (found,)
        spans[point] = found
        floor_mm = max(floor_mm, tolerance(found.middle_mm()))
    return {point: spans[point] for point in wanted}, ()


def _tolerance_of(reach: Reach, given_mm: float | None, floor_mm: float) -> Tolerance:
    if given_mm is not None:
        return lambda _: given_mm
    return lambda at_mm: max(floor_mm, reach.finest_mm(at_mm))


def _span(case: Case, reach: Reach, room: Room, tolerance: Tolerance) -> Span | Refusal:
    ends_mm = _bench_ends_mm(case)
    first_mm, last_mm = first_point_mm(reach, ends_mm[0], tolerance), last_point_mm(ends_mm[1], tolerance)
    nearest_mm, farthest_mm = first_mm, last_mm
    if room.inner is not None:
        nearest_mm = max(first_mm, nearest_point_mm(reach, room.inner.at_mm, tolerance))
    if room.outer is not None:
        farthest_mm = min(last_mm, farthest_point_mm(reach, room.outer.at_mm, tolerance))
    if nearest_mm > farthest_mm:
        return _no_room(reach, room, (nearest_mm, farthest_mm, last_mm), tolerance)
    things = [f"{thing.words} at {thing.at_mm:g} mm" for thing in (room.inner, room.outer) if thing]
    if room.outer is None:
        farthest_mm = min(farthest_mm, nearest_mm * (1 + _OPEN_SHARE))
    if room.inner is None:
        nearest_mm = max(nearest_mm, farthest_mm * (1 - _OPEN_SHARE))
    return Span(nearest_mm, farthest_mm, " and ".join(things))


def _bench_ends_mm(case: Case) -> tuple[float, float]:
    """Where set points can be proven on the bench, as distances at the machine."""
    target, scale = case.rig.target, case.conditions.scale
    zone = case.zone(case.order.setting)
    return zone.blind_end / scale, min(zone.sensing.range_mm, target.farthest_mm) / scale


def _no_room(reach: Reach, room: Room, ends_mm: tuple[float, float, float], tolerance: Tolerance) -> Refusal:
    nearest_mm, farthest_mm, last_mm = ends_mm
    because = f"set point {reach.point} with tolerance, guard, air and differential travel"
    if room.outer is not None and farthest_mm < last_mm:
        inner = f"{room.inner.words} at {room.inner.at_mm:g} mm" if room.inner else "the blind zone"
        what = f"no set point fits between {inner} and {room.outer.words}"
        limit_mm = reach.farthest_mm(nearest_mm, tolerance(nearest_mm))
        return too_little(what, room.outer.at_mm, limit_mm, "mm", room.outer.key, because=because)
    what = "no set point beyond the objects fits into the sensing range and the reach of the target"
    if room.inner is None:
        return Refusal(what, f"up to {last_mm:g} mm", "a type or a target that reaches farther")
    limit_mm = reach.nearest_mm(last_mm, tolerance(last_mm))
    return too_much(what, room.inner.at_mm, limit_mm, "mm", room.inner.key, because=because)


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
    rooms, (_, last_mm) = rooms_of(case.need), _bench_ends_mm(case)
    distances_mm = list(points_mm.values())
    room_mm = min(distances_mm[0], (distances_mm[-1] - distances_mm[0]) / 2 or math.inf)
    return (
        tolerance_mm < room_mm
        and distances_mm[-1] + tolerance_mm <= last_mm
        and distances_mm[0]
        >= first_point_mm(case.reach(SetPoint.NEAR), _bench_ends_mm(case)[0], lambda _: tolerance_mm)
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
