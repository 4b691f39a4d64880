"""Between which distances each set point of a mode keeps clear of everything, or why there is no such place."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from rig.planning.case import Case
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
from rig.statistics.numeric import root_between
from sequences.order import Setting
from sequences.words import SetPoint
from wiring.saying import say

# Where nothing stands behind (or in front), a set point keeps this share of its distance from the objects: near
# enough that nobody walks through the beam behind them (common practice, no source).
_OPEN_SHARE = 0.1


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


Pick = Callable[[SetPoint, Span], float]
"""Chooses a set point from its span."""


def in_the_middle(_: SetPoint, span: Span) -> float:
    """As far from everything as can be."""
    return span.middle_mm()


def for_the_widest_window(point: SetPoint, span: Span) -> float:
    """As far from the other end of the window as can be, in tenths where the span holds any."""
    if point is SetPoint.NEAR:
        return min(at_least(span.nearest_mm), span.farthest_mm)
    return max(at_most(span.farthest_mm), span.nearest_mm)


def spans_of(
    case: Case, part: Setting, wanted: tuple[SetPoint, ...], pick: Pick
) -> tuple[Mapping[SetPoint, Span], tuple[Refusal, ...]]:
    """The span of every set point of a mode, nearest first, or what stands against any."""
    spans: dict[SetPoint, Span] = {}
    floor_mm = part.tolerance_mm or 0.0
    # The outer one first: the window has one tolerance, and the finest that can be proven grows with distance.
    for point in reversed(wanted):
        reach = case.reach(point)
        room, tolerance = rooms_of(case.need)[point], _tolerance_of(reach, part.tolerance_mm, floor_mm)
        found = _span(case, reach, room, tolerance)
        if isinstance(found, Refusal):
            return {}, (_finer(case, reach, room, part.tolerance_mm) or found,)
        spans[point] = found
        floor_mm = max(floor_mm, tolerance(pick(point, found)))
    return {point: spans[point] for point in wanted}, ()


def _tolerance_of(reach: Reach, given_mm: float | None, floor_mm: float) -> Tolerance:
    if given_mm is not None:
        return lambda _: given_mm
    return lambda at_mm: max(floor_mm, reach.finest_mm(at_mm))


def _span(case: Case, reach: Reach, room: Room, tolerance: Tolerance) -> Span | Refusal:
    nearest_mm, farthest_mm, last_mm = _ends_mm(case, reach, room, tolerance)
    if nearest_mm > farthest_mm:
        return _no_room(reach, room, (nearest_mm, farthest_mm, last_mm), tolerance)
    things = [
        say("{words} at {at_mm:g} mm", words=thing.words, at_mm=thing.at_mm)
        for thing in (room.inner, room.outer)
        if thing
    ]
    if room.outer is None:
        farthest_mm = min(farthest_mm, nearest_mm * (1 + _OPEN_SHARE))
    if room.inner is None:
        nearest_mm = max(nearest_mm, farthest_mm * (1 - _OPEN_SHARE))
    return Span(nearest_mm, farthest_mm, " and ".join(things))


def _ends_mm(case: Case, reach: Reach, room: Room, tolerance: Tolerance) -> tuple[float, float, float]:
    """Nearest and farthest set point, and the farthest that bench and type leave; they may cross."""
    ends_mm = bench_ends_mm(case)
    first_mm, last_mm = first_point_mm(reach, ends_mm[0], tolerance), last_point_mm(ends_mm[1], tolerance)
    nearest_mm, farthest_mm = first_mm, last_mm
    if room.inner is not None:
        nearest_mm = max(first_mm, nearest_point_mm(reach, room.inner.at_mm, tolerance))
    if room.outer is not None:
        farthest_mm = min(last_mm, farthest_point_mm(reach, room.outer.at_mm, tolerance))
    return nearest_mm, farthest_mm, last_mm


def _finer(case: Case, reach: Reach, room: Room, ordered_mm: float | None) -> Refusal | None:
    """The tolerance that is ordered is in the way, and one that leaves room can still be proven."""
    if ordered_mm is None:
        return None

    def too_wide_mm(tolerance_mm: float) -> float:
        nearest_mm, farthest_mm, _ = _ends_mm(case, reach, room, lambda _: tolerance_mm)
        return nearest_mm - farthest_mm

    if too_wide_mm(0.0) >= 0:
        return None
    largest_mm = at_most(root_between(too_wide_mm, 0.0, ordered_mm), 2)
    nearest_mm, _, _ = _ends_mm(case, reach, room, lambda _: largest_mm)
    if largest_mm < reach.finest_mm(nearest_mm):
        return None
    what = say(
        "tolerance leaves no room for set point {point} between what it has to keep clear of",
        point=reach.point,
    )
    return too_much(what, ordered_mm, largest_mm, "mm", "setting.tolerance_mm", decimals=2)


def bench_ends_mm(case: Case) -> tuple[float, float]:
    """Where set points can be proven on the bench, as distances at the machine."""
    target, scale = case.rig.target, case.conditions.scale
    zone = case.zone(case.order.setting)
    return zone.blind_end / scale, min(zone.sensing.range_mm, target.farthest_mm) / scale


def _no_room(reach: Reach, room: Room, ends_mm: tuple[float, float, float], tolerance: Tolerance) -> Refusal:
    nearest_mm, farthest_mm, last_mm = ends_mm
    because = say("set point {point} with tolerance, guard, air and differential travel", point=reach.point)
    if room.outer is not None and farthest_mm < last_mm:
        inner = (
            say("{words} at {at_mm:g} mm", words=room.inner.words, at_mm=room.inner.at_mm)
            if room.inner
            else "the blind zone"
        )
        between = say("no set point fits between {inner} and {words}", inner=inner, words=room.outer.words)
        limit_mm = reach.farthest_mm(nearest_mm, tolerance(nearest_mm))
        return too_little(between, room.outer.at_mm, limit_mm, "mm", room.outer.key, because=because)
    what = "no set point beyond the objects fits into the sensing range and the reach of the target"
    if room.inner is None:
        return Refusal(
            what, say("up to {last_mm:g} mm", last_mm=last_mm), "a type or a target that reaches farther"
        )
    limit_mm = reach.nearest_mm(last_mm, tolerance(last_mm))
    return too_much(what, room.inner.at_mm, limit_mm, "mm", room.inner.key, because=because)
