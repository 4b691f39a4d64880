"""What stands against the set points of a setting at the machine: drift, objects, foreground and background."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rig.planning.case import Case
from rig.planning.refusal import Refusal, too_little, too_much
from rig.planning.rooms import Reach, Room, Thing, farthest_point_mm, nearest_point_mm, rooms_of
from sequences.order import POINT_KEYS, Setting
from sequences.words import SetPoint
from wiring.saying import say

_HAIR_MM = 1e-6
# A set point is written in tenths: less room than that is none.
_GRAIN_MM = 0.1
_SHARES = "with tolerance, guard, air and differential travel"


def room_refusals(case: Case, setting: Setting) -> Iterator[Refusal]:
    """Every set point that wanders out of its tolerance, or comes too close to something at the machine."""
    for point, room in rooms_of(case.need).items():
        at_mm = setting.set_points_mm.get(point)
        if at_mm is not None and setting.tolerance_mm is not None:
            yield from _drift_refusals(case, point, at_mm, setting.tolerance_mm)
            yield from _crowded(case, point, room, at_mm, setting.tolerance_mm)


def _drift_refusals(case: Case, point: SetPoint, at_mm: float, tolerance_mm: float) -> Iterator[Refusal]:
    drift_mm = case.reach(point).drift_mm(at_mm)
    if drift_mm > tolerance_mm + _HAIR_MM:
        yield too_little(
            say("set point {point} moves by more than the tolerance over the machine's air", point=point),
            tolerance_mm,
            drift_mm,
            "mm",
            "setting.tolerance_mm",
            decimals=2,
            because="or a temperature-compensated type, or a narrower span of air",
        )


def _crowded(case: Case, point: SetPoint, room: Room, at_mm: float, tolerance_mm: float) -> Iterator[Refusal]:
    reach = case.reach(point)
    nearest_mm, farthest_mm = _ends_mm(reach, room, tolerance_mm)
    fits, key = nearest_mm <= farthest_mm - _GRAIN_MM, f"setting.{POINT_KEYS[point]}"
    if room.inner is not None and at_mm < nearest_mm - _HAIR_MM:
        what = say(
            "set point {point} comes too close to {words} at {at_mm:g} mm",
            point=point,
            words=room.inner.words,
            at_mm=room.inner.at_mm,
        )
        if fits:
            yield too_little(what, at_mm, nearest_mm, "mm", key, because=_SHARES)
        else:
            yield _moved(what, room.inner, reach.nearest_mm(at_mm, tolerance_mm), outwards=False)
    if room.outer is not None and at_mm > farthest_mm + _HAIR_MM:
        what = say(
            "set point {point} comes too close to {words} at {at_mm:g} mm",
            point=point,
            words=room.outer.words,
            at_mm=room.outer.at_mm,
        )
        if fits:
            yield too_much(what, at_mm, farthest_mm, "mm", key, because=_SHARES)
        else:
            yield _moved(what, room.outer, reach.farthest_mm(at_mm, tolerance_mm), outwards=True)


def _ends_mm(reach: Reach, room: Room, tolerance_mm: float) -> tuple[float, float]:
    nearest_mm, farthest_mm = 0.0, math.inf
    if room.inner is not None:
        nearest_mm = nearest_point_mm(reach, room.inner.at_mm, lambda _: tolerance_mm)
    if room.outer is not None:
        farthest_mm = farthest_point_mm(reach, room.outer.at_mm, lambda _: tolerance_mm)
    return nearest_mm, farthest_mm


def _moved(what: str, thing: Thing, limit_mm: float, *, outwards: bool) -> Refusal:
    """No set point would do: the thing itself has to stand elsewhere."""
    refuse = too_little if outwards else too_much
    return refuse(
        what,
        thing.at_mm,
        limit_mm,
        "mm",
        thing.key,
        because=say("{words}; {shares}", words=thing.words, shares=_SHARES),
    )
