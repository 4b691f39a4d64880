"""Refusals: what cannot be done, with the limit, the value given and the nearest that would pass."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from rig.planning.checks import Zone
from rig.planning.plan import PlaceTarget, Plan
from sequences.order import Order, Setting
from sequences.sensor_type import SensorType
from sequences.steps import Cover, Sequence
from sequences.words import SetPoint
from wiring.profile import RigProfile, TargetKind, TargetProfile

# Distances closer than this are equal: far below any bench, far above rounding.
_HAIR_MM = 1e-6
# A position this close to a slot is the slot.
_SLOT_GRAIN_MM = 0.01


@dataclass(frozen=True, slots=True)
class Refusal:
    """One thing that stands against an order.

    Attributes:
        what: what is wrong, in words.
        given: the value that the order or type gives.
        nearest: the nearest that would pass, or what else to do.

    """

    what: str
    given: str
    nearest: str

    def __str__(self) -> str:
        return f"{self.what} (given {self.given}); possible: {self.nearest}"


class PlanRefused(ValueError):
    """The order cannot be done with this sensor type on this rig; `refusals` says why, all at once."""

    def __init__(self, refusals: tuple[Refusal, ...]) -> None:
        super().__init__("\n".join(str(refusal) for refusal in refusals))
        self.refusals = refusals


def refusals_of(order: Order, sensor_type: SensorType, rig: RigProfile, zone: Zone) -> Iterator[Refusal]:
    """Everything that stands against an order with this sensor type on this rig."""
    yield from _type_refusals(order, sensor_type, rig)
    if zone.largest_tolerance <= 0 or (zone.outer is None and zone.start >= zone.end):
        sensing = sensor_type.sensing
        yield Refusal(
            "target does not reach the sensing range",
            f"{zone.nearest:g} to {zone.farthest:g} mm",
            f"a reach from {sensing.blind_zone_mm:g} to {sensing.range_mm:g} mm",
        )
    elif zone.outer is not None:
        yield from _distance_refusals(order, zone, zone.outer)
    yield from _cover_refusals(order, sensor_type, rig)


def left_out_of(setting: Setting) -> Iterator[Refusal]:
    """What a setting still leaves to a proposal; without it there is nothing to plan."""
    for one in setting.left_out():
        yield Refusal(f"{one.key_path[-1]} is left out of the setting", "nothing", one.allowed)


def sequence_of(setting: Setting, sensor_type: SensorType) -> Sequence | None:
    """The sequence that teaches a setting; None if the type cannot do it."""
    if setting.mode is None or setting.output_function is None:
        return None
    return sensor_type.sequence_for(setting.mode, setting.output_function)


def slot_refusals(plan: Plan, target: TargetProfile) -> Iterator[Refusal]:
    """The positions of a plan that a target in slots cannot take."""
    slots_mm = [slot.position_mm for slot in target.slots]
    missing = [
        at_mm
        for at_mm in _positions_mm(plan)
        if all(abs(at_mm - slot_mm) > _SLOT_GRAIN_MM for slot_mm in slots_mm)
    ]
    if target.kind is TargetKind.SLOTS and missing:
        yield Refusal(
            "target has no slot where this order needs one",
            f"{', '.join(f'{slot_mm:g}' for slot_mm in slots_mm)} mm",
            f"more slots, at {', '.join(f'{at_mm:g}' for at_mm in missing)} mm",
        )


def _positions_mm(plan: Plan) -> list[float]:
    placed = [
        step.position_mm for step in plan.steps if isinstance(step, PlaceTarget) and step.where != "cover"
    ]
    read = [at_mm for check in plan.checks for at_mm in (check.position_mm, check.proof_mm)]
    return sorted({at_mm for at_mm in (*placed, *read) if at_mm is not None})


def _type_refusals(order: Order, sensor_type: SensorType, rig: RigProfile) -> Iterator[Refusal]:
    setting = order.setting
    if sequence_of(setting, sensor_type) is None:
        offered = ", ".join(f"{mode} {function}" for mode, function in sensor_type.offered)
        yield Refusal(
            f"{sensor_type.name} cannot be taught this", f"{setting.mode} {setting.output_function}", offered
        )
    if setting.output_type not in sensor_type.output.types:
        yield Refusal(
            f"{sensor_type.name} has no such output", setting.output_type, ", ".join(sensor_type.output.types)
        )
    supply = sensor_type.supply
    if not supply.voltage_min_v <= rig.supply.voltage_v <= supply.voltage_max_v:
        yield Refusal(
            "supply of the rig does not suit the type",
            f"{rig.supply.voltage_v:g} V",
            f"{supply.voltage_min_v:g} to {supply.voltage_max_v:g} V",
        )
    if rig.supply.current_limit_a <= supply.no_load_current_max_a:
        yield Refusal(
            "current limit of the rig's supply hides a unit that draws too much",
            f"{rig.supply.current_limit_a:g} A",
            f"more than {supply.no_load_current_max_a:g} A",
        )


def _cover_refusals(order: Order, sensor_type: SensorType, rig: RigProfile) -> Iterator[Refusal]:
    target, sequence = rig.target, sequence_of(order.setting, sensor_type)
    covers = sequence is not None and any(isinstance(step, Cover) for step in sequence.steps)
    largest_mm = sensor_type.sensing.blind_zone_mm - target.placement_mm
    if covers and target.kind is TargetKind.STAGE and target.nearest_mm > largest_mm:
        yield Refusal(
            "stage does not come near enough to cover the face",
            f"{target.nearest_mm:g} mm",
            f"{_at_most(largest_mm)} (within the blind zone)",
        )


def _distance_refusals(order: Order, zone: Zone, outer_mm: float) -> Iterator[Refusal]:
    smallest_mm = zone.smallest_tolerance(min(outer_mm, zone.last_point))
    if zone.tolerance < smallest_mm - _HAIR_MM:
        yield Refusal(
            "tolerance is finer than this rig can prove with this type",
            f"{zone.tolerance:g} mm",
            f"{_at_least(smallest_mm, 2)} (twice the sum of placement and half the repeat accuracy)",
        )
    if zone.tolerance > zone.largest_tolerance:
        yield Refusal(
            "tolerance leaves no room for a set point within sensing range and reach",
            f"{zone.tolerance:g} mm",
            _at_most(zone.largest_tolerance, 2),
        )
        return
    for point, at_mm in order.setting.set_points_mm.items():
        yield from _point_refusals(zone, point, at_mm)
    if zone.inner is not None:
        yield from _window_refusals(zone, zone.inner, outer_mm - zone.inner)


def _point_refusals(zone: Zone, point: SetPoint, at_mm: float) -> Iterator[Refusal]:
    sensing = zone.sensing
    if at_mm < zone.first_point - _HAIR_MM:
        blocked = "nearest place of the target" if zone.blind_end == zone.nearest else "blind zone"
        yield Refusal(
            f"set point {point} lies in the {blocked}, or too close to it for the tolerance",
            f"{at_mm:g} mm",
            f"{_at_least(zone.first_point)} (blind zone {sensing.blind_zone_mm:g} mm)",
        )
    if at_mm > zone.last_point + _HAIR_MM:
        what = "sensing range" if sensing.range_mm <= zone.farthest else "reach of the target"
        yield Refusal(
            f"set point {point} lies beyond the {what}, or too close to its end for the tolerance",
            f"{at_mm:g} mm",
            _at_most(zone.last_point),
        )


def _window_refusals(zone: Zone, inner_mm: float, window_mm: float) -> Iterator[Refusal]:
    smallest_mm = zone.smallest_window(inner_mm)
    if window_mm < smallest_mm - _HAIR_MM:
        held = smallest_mm == zone.sensing.smallest_window_mm
        yield Refusal(
            f"window is smaller than {'the type can hold' if held else 'this rig can prove at this tolerance'}",
            f"{window_mm:g} mm",
            _at_least(smallest_mm),
        )


def _at_least(limit_mm: float, decimals: int = 1) -> str:
    """A lower limit in words, rounded to the side that passes."""
    return f"{math.ceil((limit_mm - _HAIR_MM) * 10**decimals) / 10**decimals:g} mm or more"


def _at_most(limit_mm: float, decimals: int = 1) -> str:
    """An upper limit in words, rounded to the side that passes."""
    return f"{math.floor((limit_mm + _HAIR_MM) * 10**decimals) / 10**decimals:g} mm or less"
