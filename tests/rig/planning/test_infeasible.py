"""Orders that cannot be done: each is refused, in words that say which limit, what was given and what would do."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

import pytest
from pydantic import ValidationError

from rig.planning.compile import make_plan
from rig.planning.refusal import PlanRefused
from sequences.library import load_type, shipped_orders, shipped_types
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile, load_profile, shipped_profiles

TYPES = {name: load_type(path) for name, path in shipped_types().items()}
RIGS = {name: load_profile(path) for name, path in shipped_profiles().items()}


class Case(NamedTuple):
    """One edit of a shipped order, and part of what has to be said about it."""

    order: str
    edit: dict[str, Any]
    said: str
    sensor_type: Mapping[str, Any] = MappingProxyType({})
    rig: Mapping[str, Any] = MappingProxyType({})


def edited(data: Any, edit: Mapping[str, Any]) -> Any:
    """A copy of `data` with the values at dotted keys replaced; None takes a key away."""
    copy = dict(data)
    for key, value in edit.items():
        first, _, rest = key.partition(".")
        if rest:
            copy[first] = edited(copy.get(first, {}), {rest: value})
        elif value is None:
            copy.pop(first, None)
        else:
            copy[first] = value
    return copy


def refusal_of(case: Case) -> str:
    """Everything that is said against the order."""
    text = shipped_orders()[case.order].read_text(encoding="utf-8")
    try:
        order = Order.model_validate(edited(tomllib.loads(text), case.edit))
        sensor_type = SensorType.model_validate(
            edited(TYPES[order.sensor_type].model_dump(exclude_none=True), case.sensor_type)
        )
        rig = RigProfile.model_validate(edited(RIGS["simulated"].model_dump(exclude_none=True), case.rig))
        plan = make_plan(order, sensor_type, rig)
    except PlanRefused as refused:
        return str(refused)
    except ValidationError as contradiction:
        return str(contradiction)
    return f"planned: {plan.set_points}"


CASES = (
    Case(
        "tipper-point-no",
        {"setting.at_mm": 50},
        "set point only lies in the blind zone, or too close to it for the tolerance (given 50 mm)"
        "; possible: 70.5 mm",
    ),
    Case(
        "tipper-point-no",
        {"setting.at_mm": 64},
        "too close to it for the tolerance (given 64 mm); possible: 70.5 mm or more (blind zone 60 mm)",
    ),
    Case(
        "tipper-point-no",
        {"setting.at_mm": 900},
        "lies beyond the sensing range, or too close to its end for the tolerance (given 900 mm)"
        "; possible: 792 mm",
    ),
    Case("tipper-point-no", {"setting.at_mm": 797}, "(given 797 mm); possible: 792 mm or less"),
    Case(
        "tipper-point-no",
        {"setting.tolerance_mm": 1.0},
        "tolerance is finer than this rig can prove with this type (given 1 mm); possible: 2.57 mm",
    ),
    Case(
        "tipper-point-no",
        {"setting.tolerance_mm": 380},
        "tolerance leaves no room for a set point within sensing range and reach (given 380 mm)"
        "; possible: 367.8 mm",
    ),
    Case(
        "tipper-point-no",
        {"setting.output_type": "push-pull"},
        "barrel-18-rail has no such output (given push-pull); possible: PNP, NPN",
    ),
    Case(
        "tipper-point-no",
        {"setting.mode": "window"},
        "mode window has no at_mm; mode window needs near_mm; mode window needs far_mm",
    ),
    Case("tipper-point-no", {"setting.near_mm": 100}, "mode single-point has no near_mm"),
    Case("tipper-point-no", {"setting.tolerance_mm": None}, "mode single-point needs tolerance_mm"),
    Case(
        "tipper-point-no",
        {},
        "supply of the rig does not suit the type (given 30 V); possible: 10 to 28 V",
        rig={"supply.voltage_v": 30.0},
        sensor_type={"supply.voltage_max_v": 28.0},
    ),
    Case(
        "tipper-point-no",
        {},
        "current limit of the rig's supply hides a unit that draws too much (given 0.04 A)"
        "; possible: more than 0.05 A",
        rig={"supply.current_limit_a": 0.04},
    ),
    Case(
        "tipper-point-no",
        {},
        "beyond the reach of the target, or too close to its end for the tolerance (given 400 mm)"
        "; possible: 292 mm",
        rig={"target.farthest_mm": 300.0},
    ),
    Case(
        "tipper-point-no",
        {},
        "nearest place of the target, or too close to it for the tolerance (given 400 mm)"
        "; possible: 419.4 mm",
        rig={"target.nearest_mm": 410.0},
    ),
    Case(
        "tipper-point-no",
        {},
        "unit takes no more teaching so long after power-up (given 7",
        sensor_type={"timing.teach_window_s": 3.0},
    ),
    Case(
        "tipper-point-no",
        {},
        "unit gives up between two contacts: the target takes too long (given 0.",
        sensor_type={"timing.teach_timeout_s": 0.2},
    ),
    Case("hopper-window-no", {"setting.near_mm": 445}, "too large for these set points"),
    Case("hopper-window-no", {"setting.far_mm": 165}, "too large for these set points"),
    Case("hopper-window-no", {"setting.near_mm": 460}, "must be less than far_mm"),
    Case(
        "infeed-full-range",
        {"setting.output_function": "NC"},
        "block-rail cannot be taught this (given full-range NC); possible: full-range NO, single-point NO",
    ),
    Case(
        "infeed-full-range",
        {},
        "target does not reach the sensing range (given 0 to 121 mm); possible: a reach from 120 to 2000 mm",
        rig={"target.farthest_mm": 121.0},
    ),
    Case(
        "infeed-full-range",
        {},
        "stage does not come near enough to cover the face (given 125 mm); possible: 119.6 mm or less",
        rig={"target.nearest_mm": 125.0},
    ),
    Case(
        "cold-store-need",
        {"need.nearest_mm": 40},
        "objects come into the blind zone (given 40 mm); possible: 58.7 mm or more",
    ),
    Case(
        "cold-store-need",
        {"need.farthest_mm": 790, "need.background_mm": None},
        "objects go farther than the type surely hears them",
    ),
    Case(
        "cold-store-need",
        {"need.background_mm": 425},
        "no set point fits between the farthest object at 420 mm and the background (given 425 mm)"
        "; possible: 449.6 mm",
    ),
    Case("cold-store-need", {"need.background_mm": 400}, "must be less than background_mm"),
    Case(
        "cold-store-need",
        {"need.foreground_mm": 175},
        "no set point fits between what stands in front at 175 mm and the nearest object (given 180 mm)"
        "; possible: 192.2",
    ),
    Case("cold-store-need", {"need.foreground_mm": 200}, "must be less than nearest_mm"),
    Case(
        "cold-store-need",
        {"need.object.width_mm": 2, "need.object.height_mm": 2},
        "(hard plate 2 x 2 mm, up to 2 degrees out of square) (given 420 mm); possible: 145.1 mm or less",
    ),
    Case(
        "cold-store-need",
        {"need.object": {"shape": "bar", "diameter_mm": 1, "length_mm": 20}},
        "(hard bar 1 mm thick, 20 mm long) (given 420 mm); possible: 224.7 mm or less",
    ),
    Case(
        "cold-store-need",
        {"need.object.surface": "soft"},
        "(soft plate 1200 x 760 mm, up to 2 degrees out of square) (given 420 mm)"
        "; possible: 297.5 mm or less",
    ),
    Case(
        "cold-store-need",
        {"need.object.tilt_deg": 12},
        "object is tilted so far that its echo leaves the beam (given 12 degrees)"
        "; possible: 3.5 degrees or less",
    ),
    Case(
        "cold-store-need",
        {"need.mounting.side_wall_mm": 20},
        "wall beside the beam may be heard (given 20 mm); possible: 45.1 mm or more (from the axis)",
    ),
    Case(
        "cold-store-need",
        {"need.mounting.neighbour_spacing_mm": 50},
        "neighbours hear one another (given 50 mm); possible: 97 mm or more (from axis to axis)",
    ),
    Case(
        "cold-store-need",
        {"need.mounting.recess_mm": 300, "need.mounting.recess_diameter_mm": 20},
        "sensing face lies so deep in its hole that the rim is heard (given 300 mm); possible: 49 mm or less",
    ),
    Case(
        "cold-store-need",
        {"need.air.coldest_c": -35},
        "air at the machine gets colder than the type stands (given -35 °C); possible: -20 °C or more",
    ),
    Case(
        "cold-store-need",
        {"need.air.warmest_c": 70, "need.air.coldest_c": 65},
        "air at the machine gets warmer than the type stands (given 70 °C); possible: 60 °C or less",
        sensor_type={"sensing.temperature_max_c": 60},
    ),
    Case(
        "cold-store-need",
        {"need.air.coldest_c": -20, "need.air.warmest_c": 40},
        "farthest object at 420 mm and the background (given 520 mm); possible: 554.1 mm or more",
    ),
    Case(
        "cold-store-need",
        {
            "setting.tolerance_mm": 1.5,
            "setting.mode": "single-point",
            "setting.output_function": "NO",
            "setting.at_mm": 462,
        },
        "set point only moves by more than the tolerance over the machine's air (given 1.5 mm)"
        "; possible: 3.55 mm or more",
    ),
    Case(
        "cold-store-need",
        {"need.motion.speed_m_s": 5, "need.motion.object_length_mm": 20},
        "objects pass faster than the output responds (given 5 m/s)"
        "; possible: 0.4 m/s or less (20 mm in 0.05 s)",
    ),
    Case(
        "cold-store-need",
        {"need.motion.gap_mm": 40},
        "gap between objects is too short for the output to let go (given 40 mm); possible: 100.6 mm or more",
    ),
    Case(
        "cold-store-need",
        {"need.supply.lowest_v": 8},
        "supply at the machine falls lower than the type stands (given 8 V); possible: 10 V or more",
    ),
    Case(
        "cold-store-need",
        {"need.supply.highest_v": 36},
        "supply at the machine rises higher than the type stands (given 36 V); possible: 30 V or less",
    ),
    Case(
        "cold-store-need",
        {"need.supply.load_current_a": 0.5},
        "load draws more than the output can carry (given 0.5 A); possible: 0.2 A or less",
    ),
    Case(
        "cold-store-need",
        {
            "setting.mode": "single-point",
            "setting.output_function": "NO",
            "setting.at_mm": 425,
            "setting.tolerance_mm": 6,
        },
        "set point only comes too close to the farthest object at 420 mm (given 425 mm)"
        "; possible: 431 mm or more",
    ),
    Case("cold-store-need", {"need.nearest_mm": 430}, "is more than farthest_mm"),
    Case(
        "cold-store-need",
        {"sensor_type": "barrel-12-count", "setting.output_type": "NPN"},
        "fits into the sensing range and the reach of the target (given 420 mm); possible: 280.8 mm or less",
    ),
)


def name_of(case: Case) -> str:
    return f"{case.order} {dict(case.edit or case.sensor_type or case.rig)}"[:70]


@pytest.mark.parametrize("case", CASES, ids=name_of)
def test_an_order_that_cannot_be_done_is_refused_in_words_to_act_on(case: Case) -> None:
    assert case.said in refusal_of(case)


# Where the nearest possible value is told as a number, that number has to be possible.
NEAREST = (
    ("tipper-point-no", {"setting.at_mm": 50}, {"setting.at_mm": 70.5}),
    ("tipper-point-no", {"setting.at_mm": 900}, {"setting.at_mm": 792}),
    ("tipper-point-no", {"setting.tolerance_mm": 1.0}, {"setting.tolerance_mm": 2.57}),
    ("cold-store-need", {"need.nearest_mm": 40}, {"need.nearest_mm": 58.7}),
    ("cold-store-need", {"need.background_mm": 425}, {"need.background_mm": 449.6}),
    ("cold-store-need", {"need.object.tilt_deg": 12}, {"need.object.tilt_deg": 3.5}),
    ("cold-store-need", {"need.mounting.side_wall_mm": 20}, {"need.mounting.side_wall_mm": 45.1}),
    (
        "cold-store-need",
        {"need.mounting.neighbour_spacing_mm": 50},
        {"need.mounting.neighbour_spacing_mm": 97},
    ),
    ("cold-store-need", {"need.motion.gap_mm": 40}, {"need.motion.gap_mm": 100.6}),
    ("cold-store-need", {"need.supply.lowest_v": 8}, {"need.supply.lowest_v": 10}),
    ("cold-store-need", {"need.supply.load_current_a": 0.5}, {"need.supply.load_current_a": 0.2}),
    ("cold-store-need", {"need.air.coldest_c": -35, "need.air.warmest_c": -18}, {"need.air.coldest_c": -20}),
)


@pytest.mark.parametrize(("order", "wrong", "nearest"), NEAREST)
def test_the_nearest_value_that_is_offered_passes(
    order: str, wrong: dict[str, Any], nearest: dict[str, Any]
) -> None:
    assert not refusal_of(Case(order, wrong, "")).startswith("planned")
    assert refusal_of(Case(order, wrong | nearest, "")).startswith("planned")
