"""The value that a refusal offers is put where the refusal says, and then the order can be done.

Just short of that value it still cannot: nobody is asked for more than is needed.
"""
# ruff: noqa: E501 - a table reads best with one row on one line
# fmt: off

from __future__ import annotations

import math
from typing import Any, NamedTuple

import pytest

from rig.planning.refusal import Refusal
from tests.rig.planning.cases import needing


class Row(NamedTuple):
    """Changes to an order that can be done, what has to be said of them, and the key that has to change."""

    name: str
    changes: dict[str, Any]
    what: str
    given: str
    key: str


POINT: dict[str, Any] = {
    "setting.mode": "single-point", "setting.output_function": "NO",
    "setting.at_mm": 470.0, "setting.tolerance_mm": 8.0,
}

ROWS = (
    Row("blind zone", {"need.nearest_mm": 40.0}, "objects come into the blind zone", "40 mm", "need.nearest_mm"),
    Row("beyond range", {"need.farthest_mm": 900.0, "need.background_mm": None}, "objects go farther than the type surely hears them (hard plate 1200 x 760 mm, up to 2 degrees out of square)", "900 mm", "need.farthest_mm"),
    Row("soft bales", {"need.object.surface": "soft"}, "objects go farther than the type surely hears them (soft plate 1200 x 760 mm, up to 2 degrees out of square)", "420 mm", "need.farthest_mm"),
    Row("loose apples", {"need.object": {"shape": "bulk"}, "need.farthest_mm": 640.0, "need.background_mm": None}, "objects go farther than the type surely hears them (hard loose goods)", "640 mm", "need.farthest_mm"),
    Row("thin rod", {"need.object": {"shape": "bar", "diameter_mm": 2.0, "length_mm": 300.0}}, "objects go farther than the type surely hears them (hard bar 2 mm thick, 300 mm long)", "420 mm", "need.farthest_mm"),
    Row("wire", {"need.object": {"shape": "bar", "diameter_mm": 0.4, "length_mm": 300.0}, "need.nearest_mm": 80.0, "need.farthest_mm": 90.0, "need.motion": None}, "object is too small against the wavelength for its echo to be foretold", "0.4 mm", "need.object.diameter_mm"),
    Row("leaning bins", {"need.object.tilt_deg": 5.0}, "object is tilted so far that its echo leaves the beam", "5 degrees", "need.object.tilt_deg"),
    Row("cold makes it fog", {"need.object": {"shape": "bar", "diameter_mm": 90.0, "length_mm": 300.0}, "need.farthest_mm": 480.0, "need.background_mm": 600.0}, "objects go farther than the type surely hears them (hard bar 90 mm thick, 300 mm long)", "480 mm", "need.farthest_mm"),
    Row("wall right behind", {"need.background_mm": 440.0}, "no set point fits between the farthest object at 420 mm and the background", "440 mm", "need.background_mm"),
    Row("foreground right in front", {"need.foreground_mm": 170.0}, "no set point fits between what stands in front at 170 mm and the nearest object", "180 mm", "need.nearest_mm"),
    Row("given point in front of the bins", {**POINT, "setting.at_mm": 425.0}, "set point only comes too close to the farthest object at 420 mm", "425 mm", "setting.at_mm"),
    Row("given point at the wall", {**POINT, "setting.at_mm": 505.0}, "set point only comes too close to the background at 520 mm", "505 mm", "setting.at_mm"),
    Row("given point and no room for any", {**POINT, "need.background_mm": 480.0}, "set point only comes too close to the background at 480 mm", "470 mm", "setting.at_mm"),
    Row("given point in the blind zone", {**POINT, "setting.at_mm": 66.0, "need.nearest_mm": None, "need.farthest_mm": None, "need.background_mm": None}, "set point only lies in the blind zone, or too close to it for the tolerance", "66 mm", "setting.at_mm"),
    Row("given point beyond range", {**POINT, "setting.at_mm": 795.0, "need.background_mm": None}, "set point only lies beyond the sensing range, or too close to its end for the tolerance", "795 mm", "setting.at_mm"),
    Row("given window narrower than the type holds", {"setting.mode": "window", "setting.output_function": "NO", "setting.near_mm": 300.0, "setting.far_mm": 315.0, "setting.tolerance_mm": 3.0, "need.nearest_mm": None, "need.farthest_mm": None, "need.background_mm": None}, "window is smaller than the type can hold", "15 mm", "setting.far_mm"),
    Row("range too short for a point behind", {"need.farthest_mm": 785.0, "need.background_mm": 900.0, "need.object.tilt_deg": None}, "objects go farther than the type surely hears them (hard plate 1200 x 760 mm)", "785 mm", "need.farthest_mm"),
    Row("tolerance too fine to prove", {**POINT, "setting.tolerance_mm": 1.5}, "tolerance is finer than this rig can prove with this type", "1.5 mm", "setting.tolerance_mm"),
    Row("ordered tolerance too coarse for the room", {"setting.tolerance_mm": 45.0}, "tolerance leaves no room for set point only between what it has to keep clear of", "45 mm", "setting.tolerance_mm"),
    Row("uncompensated point wanders out of its tolerance", {**POINT, "type_name": "barrel-18-plain", "need.air.coldest_c": -2.0, "need.air.warmest_c": 25.0, "setting.at_mm": 465.0, "setting.tolerance_mm": 6.0}, "set point only moves by more than the tolerance over the machine's air", "6 mm", "setting.tolerance_mm"),
    Row("uncompensated type over a wide span of air", {"type_name": "barrel-18-plain", "need.air.coldest_c": -20.0, "need.air.warmest_c": 45.0}, "no set point fits between the farthest object at 420 mm and the background", "520 mm", "need.background_mm"),
    Row("full range before a wall", {"setting.mode": "full-range", "setting.output_function": "NO"}, "full-range also reports the background at 520 mm, which is heard there", "full-range", "setting.mode"),
    Row("single point behind a foreground", {**POINT, "need.foreground_mm": 100.0}, "single-point also reports what stands in front, up to 100 mm", "single-point", "setting.mode"),
    Row("NO though a broken wire is to read as an object", {**POINT, "need.broken_wire_reads": "an object"}, "with this output function a broken wire is not taken for an object", "NO", "setting.output_function"),
    Row("full range normally closed from a rail-order type", {"setting.mode": "full-range", "setting.output_function": "NC", "need.background_mm": None}, "barrel-18-rail cannot be taught this", "full-range NC", "setting.mode"),
    Row("push-pull wanted of a PNP type", {"setting.output_type": "push-pull"}, "barrel-18-rail has no such output", "push-pull", "setting.output_type"),
    Row("crates too fast for a slow type", {"type_name": "barrel-30-length", "need.nearest_mm": 500.0, "need.farthest_mm": 900.0, "need.background_mm": 1500.0, "need.mounting": {}, "need.motion": {"speed_m_s": 0.6, "object_length_mm": 100.0}}, "objects pass faster than the output responds", "0.6 m/s", "need.motion.speed_m_s"),
    Row("gap shorter than the beam is wide", {"need.motion.gap_mm": 40.0}, "gap between objects is too short for the output to let go", "40 mm", "need.motion.gap_mm"),
    Row("bins on a fast belt with small gaps", {"need.motion.speed_m_s": 4.0}, "gap between objects is too short for the output to let go", "250 mm", "need.motion.gap_mm"),
    Row("supply sags", {"need.supply.lowest_v": 8.0}, "supply at the machine falls lower than the type stands", "8 V", "need.supply.lowest_v"),
    Row("supply too high", {"need.supply.highest_v": 36.0}, "supply at the machine rises higher than the type stands", "36 V", "need.supply.highest_v"),
    Row("contactor as load", {"need.supply.load_current_a": 0.35}, "load draws more than the output can carry", "0.35 A", "need.supply.load_current_a"),
    Row("freezer tunnel", {"need.air.coldest_c": -35.0}, "air at the machine gets colder than the type stands", "-35 °C", "need.air.coldest_c"),
    Row("count type in a drying oven", {"type_name": "barrel-12-count", "need": {"nearest_mm": 50.0, "farthest_mm": 120.0, "air": {"coldest_c": 20.0, "warmest_c": 65.0}}}, "air at the machine gets warmer than the type stands", "65 °C", "need.air.warmest_c"),
    Row("rail beside the beam", {"need.mounting.side_wall_mm": 20.0}, "wall beside the beam may be heard", "20 mm", "need.mounting.side_wall_mm"),
    Row("next lane too near", {"need.mounting.neighbour_spacing_mm": 60.0}, "neighbours hear one another", "60 mm", "need.mounting.neighbour_spacing_mm"),
    Row("face deep in a hole", {"need.mounting.recess_mm": 150.0, "need.mounting.recess_diameter_mm": 24.0}, "sensing face lies so deep in its hole that the rim is heard", "150 mm", "need.mounting.recess_mm"),
    Row("hole narrower than the face", {"need.mounting.recess_mm": 10.0, "need.mounting.recess_diameter_mm": 12.0}, "hole is narrower than the sound that leaves it", "12 mm", "need.mounting.recess_diameter_mm"),
    Row("scale too short", {**POINT, "rig.target.farthest_mm": 450.0}, "set point only lies beyond the reach of the target, or too close to its end for the tolerance", "470 mm", "setting.at_mm"),
    Row("target too coarse", {**POINT, "rig.target.placement_mm": 6.0}, "tolerance is finer than this rig can prove with this type", "8 mm", "setting.tolerance_mm"),
    Row("stage too slow for the teach time-out", {"setting.mode": "window", "need.foreground_mm": 100.0, "rig.target.speed_mm_s": 2.0}, "unit gives up between two contacts: the target takes too long", "161 s", "rig.target.speed_mm_s"),
    Row("stage too slow for the teach window", {"rig.target.speed_mm_s": 1.0, "setting.mode": "single-point"}, "unit gives up between two contacts: the target takes too long", "462 s", "rig.target.speed_mm_s"),
    Row("target plate too small", {"rig.target.side_mm": 4.0}, "target plate of the rig is too small to be heard at 457.5 mm", "4 mm", "rig.target.side_mm"),
    Row("something stands near the scale", {"rig.target.clear_radius_mm": 30.0}, "something on the bench may be heard beside the target", "30 mm", "rig.target.clear_radius_mm"),
    Row("bench supply too low", {"type_name": "block-rail", "need": None, "setting": {"mode": "full-range", "output_function": "NO", "output_type": "push-pull"}, "rig.supply.voltage_v": 11.0}, "supply of the rig does not suit the type", "11 V", "rig.supply.voltage_v"),
    Row("stage cannot cover the face", {"need": None, "setting": {"mode": "full-range", "output_function": "NO"}, "rig.target.nearest_mm": 80.0}, "stage does not come near enough to cover the face", "80 mm", "rig.target.nearest_mm"),
)
# fmt: on

# Refusals that no single value of order or rig would heal: another mode takes other set points with it.
IN_WORDS_ONLY = {"single point behind a foreground", "full range normally closed from a rail-order type"}
VALUES = [pytest.param(row, id=row.name) for row in ROWS if row.name not in IN_WORDS_ONLY]
# Nearest values are rounded to the safe side by a tenth at most.
JUST_SHORT = 0.15


def refusal_of(row: Row) -> Refusal:
    found = [one for one in needing().changed(row.changes).refusals if one.what == row.what]
    assert found, needing().changed(row.changes).refusals
    return found[0]


def test_the_order_that_all_rows_change_can_be_done() -> None:
    plan = needing().plan
    assert plan.warnings == ()
    assert all(clearance.spare_mm > 0 for clearance in plan.grounds.points[0].clear_of)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
def test_refusal_says_what_is_wrong_what_was_given_and_where(row: Row) -> None:
    refusal = refusal_of(row)
    assert (refusal.given, refusal.key) == (row.given, row.key)
    assert refusal.nearest
    assert (refusal.passes is None) is (row.name in IN_WORDS_ONLY)


@pytest.mark.parametrize("row", VALUES)
def test_the_value_that_is_offered_passes(row: Row) -> None:
    refusal = refusal_of(row)
    healed = needing().changed({**row.changes, refusal.key: refusal.passes})
    assert healed.refusals == ()
    assert healed.plan.checks


@pytest.mark.parametrize("row", VALUES)
def test_just_short_of_it_does_not(row: Row) -> None:
    refusal = refusal_of(row)
    if not isinstance(refusal.passes, float) or row.key == "setting.far_mm":
        return
    given = float(refusal.given.split()[0])
    short = refusal.passes + math.copysign(JUST_SHORT, given - refusal.passes)
    if row.key == "rig.target.speed_mm_s":
        short = refusal.passes - JUST_SHORT
    assert needing().changed({**row.changes, refusal.key: short}).refusals


def test_everything_that_stands_against_an_order_is_said_at_once() -> None:
    case = needing(
        need__farthest_mm=790.0,
        need__background_mm=900.0,
        need__object__tilt_deg=6.0,
        need__supply__lowest_v=8.0,
        need__air__coldest_c=-30.0,
        need__motion__gap_mm=20.0,
    )
    keys = {one.key for one in case.refusals}
    assert keys == {
        "need.farthest_mm",
        "need.object.tilt_deg",
        "need.supply.lowest_v",
        "need.air.coldest_c",
        "need.motion.gap_mm",
    }
