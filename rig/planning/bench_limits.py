"""What stands against a setting on the bench: the type, its supply, the reach of the target, what can be proven."""

from __future__ import annotations

from collections.abc import Iterator

from rig.planning.case import Case, sequence_of
from rig.planning.checks import Zone
from rig.planning.measuring_limits import measuring_refusals
from rig.planning.plan import Check, PlaceTarget, PlannedStep
from rig.planning.refusal import Refusal, at_least, too_little, too_much
from sequences.order import POINT_KEYS, Setting
from sequences.sensor_type import SensorType
from sequences.steps import Cover
from sequences.words import SetPoint
from wiring.profile import RigProfile, TargetKind, TargetProfile
from wiring.saying import say

# Distances closer than this are equal: far below any bench, far above rounding.
_HAIR_MM = 1e-6
# A position this close to a slot is the slot.
_SLOT_GRAIN_MM = 0.01


def bench_refusals(case: Case, setting: Setting, zone: Zone) -> Iterator[Refusal]:
    """Everything on the bench that stands against a whole setting."""
    yield from _type_refusals(setting, case.sensor_type, case.rig)
    yield from measuring_refusals(case, zone)
    if zone.largest_tolerance <= 0 or (zone.outer is None and zone.start >= zone.end):
        yield Refusal(
            "target does not reach the sensing range",
            say("{nearest:g} to {farthest:g} mm", nearest=zone.nearest, farthest=zone.farthest),
            say(
                "a reach from {blind_zone_mm:g} to {range_mm:g} mm",
                blind_zone_mm=case.sensing.blind_zone_mm,
                range_mm=case.sensing.range_mm,
            ),
        )
    elif zone.outer is not None:
        yield from _distance_refusals(case, setting, zone, zone.outer)
    yield from _cover_refusals(setting, case.sensor_type, case.rig)


def slot_refusals(
    steps: tuple[PlannedStep, ...], checks: tuple[Check, ...], target: TargetProfile
) -> Iterator[Refusal]:
    """The positions of a plan that a target in slots cannot take."""
    slots_mm = [slot.position_mm for slot in target.slots]
    missing = [
        at_mm
        for at_mm in positions_mm(steps, checks)
        if all(abs(at_mm - slot_mm) > _SLOT_GRAIN_MM for slot_mm in slots_mm)
    ]
    if target.kind is TargetKind.SLOTS and missing:
        yield Refusal(
            "target has no slot where this order needs one",
            f"{', '.join(f'{slot_mm:g}' for slot_mm in slots_mm)} mm",
            f"more slots, at {', '.join(f'{at_mm:g}' for at_mm in missing)} mm",
            "rig.target.slots",
        )


def positions_mm(steps: tuple[PlannedStep, ...], checks: tuple[Check, ...]) -> list[float]:
    """Every position that the target may have to take, but for covering the face; nearest first."""
    placed = [step.position_mm for step in steps if isinstance(step, PlaceTarget) and step.where != "cover"]
    read = [at_mm for check in checks for at_mm in (check.position_mm, check.proof_mm)]
    return sorted({at_mm for at_mm in (*placed, *read) if at_mm is not None})


def _type_refusals(setting: Setting, sensor_type: SensorType, rig: RigProfile) -> Iterator[Refusal]:
    if sequence_of(setting, sensor_type) is None:
        offered = [
            say("{mode} {function}", mode=mode, function=function) for mode, function in sensor_type.offered
        ]
        yield Refusal(
            say("{name} cannot be taught this", name=sensor_type.name),
            say("{mode} {output_function}", mode=setting.mode, output_function=setting.output_function),
            ", ".join(offered),
            "setting.mode",
        )
    types = sensor_type.output.types
    if setting.output_type not in types:
        what = say("{name} has no such output", name=sensor_type.name)
        yield Refusal(what, setting.output_type, ", ".join(types), "setting.output_type", str(types[0]))
    yield from supply_refusals(sensor_type, rig)


def supply_refusals(sensor_type: SensorType, rig: RigProfile) -> Iterator[Refusal]:
    """What stands against units of a type on the rig's supply, whatever they are set to."""
    supply, given_v = sensor_type.supply, rig.supply.voltage_v
    if not supply.voltage_min_v <= given_v <= supply.voltage_max_v:
        yield Refusal(
            "supply of the rig does not suit the type",
            say("{given_v:g} V", given_v=given_v),
            say(
                "{voltage_min_v:g} to {voltage_max_v:g} V",
                voltage_min_v=supply.voltage_min_v,
                voltage_max_v=supply.voltage_max_v,
            ),
            "rig.supply.voltage_v",
            min(max(given_v, supply.voltage_min_v), supply.voltage_max_v),
        )
    if rig.supply.current_limit_a <= supply.no_load_current_max_a:
        yield Refusal(
            "current limit of the rig's supply hides a unit that draws too much",
            say("{current_limit_a:g} A", current_limit_a=rig.supply.current_limit_a),
            say("more than {no_load_current_max_a:g} A", no_load_current_max_a=supply.no_load_current_max_a),
            "rig.supply.current_limit_a",
            round(supply.no_load_current_max_a + 0.001, 6),
        )


def _cover_refusals(setting: Setting, sensor_type: SensorType, rig: RigProfile) -> Iterator[Refusal]:
    target = rig.target
    sequence = sequence_of(setting, sensor_type)
    covers = sequence is not None and any(isinstance(step, Cover) for step in sequence.steps)
    largest_mm = sensor_type.sensing.blind_zone_mm - target.placement_mm - target.zero_doubt_mm
    if covers and target.kind is TargetKind.STAGE and target.nearest_mm > largest_mm + _HAIR_MM:
        yield too_much(
            "stage does not come near enough to cover the face",
            target.nearest_mm,
            largest_mm,
            "mm",
            "rig.target.nearest_mm",
            because="within the blind zone",
        )


def _distance_refusals(case: Case, setting: Setting, zone: Zone, outer_mm: float) -> Iterator[Refusal]:
    given_mm = setting.tolerance_mm or 0.0
    smallest_mm = zone.smallest_tolerance(min(outer_mm, zone.last_point))
    if zone.tolerance < smallest_mm - _HAIR_MM:
        yield too_little(
            "tolerance is finer than this rig can prove with this type",
            given_mm,
            smallest_mm / zone.scale,
            "mm",
            "setting.tolerance_mm",
            decimals=2,
            because=say(
                "twice the expanded uncertainty of {what}", what="an edge" if case.measured else "a position"
            ),
        )
    if zone.tolerance > zone.largest_tolerance:
        yield too_much(
            "tolerance leaves no room for a set point within sensing range and reach",
            given_mm,
            zone.largest_tolerance / zone.scale,
            "mm",
            "setting.tolerance_mm",
            decimals=2,
        )
        return
    for point, at_mm in setting.set_points_mm.items():
        yield from _point_refusals(zone, point, at_mm)
    if zone.inner is not None:
        yield from _window_refusals(setting, zone, zone.inner, outer_mm)


def _point_refusals(zone: Zone, point: SetPoint, at_mm: float) -> Iterator[Refusal]:
    sensing, bench_mm, key = zone.sensing, at_mm * zone.scale, f"setting.{POINT_KEYS[point]}"
    if bench_mm < zone.first_point - _HAIR_MM:
        blocked = "nearest place of the target" if zone.blind_end == zone.nearest else "blind zone"
        yield too_little(
            say(
                "set point {point} lies in the {blocked}, or too close to it for the tolerance",
                point=point,
                blocked=blocked,
            ),
            at_mm,
            zone.first_point / zone.scale,
            "mm",
            key,
            because=say("blind zone {blind_zone_mm:.4g} mm", blind_zone_mm=sensing.blind_zone_mm),
        )
    if bench_mm > zone.last_point + _HAIR_MM:
        what = "sensing range" if sensing.range_mm <= zone.farthest else "reach of the target"
        yield too_much(
            say(
                "set point {point} lies beyond the {what}, or too close to its end for the tolerance",
                point=point,
                what=what,
            ),
            at_mm,
            zone.last_point / zone.scale,
            "mm",
            key,
        )


def _window_refusals(setting: Setting, zone: Zone, inner_mm: float, outer_mm: float) -> Iterator[Refusal]:
    smallest_mm = zone.smallest_window(inner_mm)
    if outer_mm - inner_mm < smallest_mm - _HAIR_MM:
        held = smallest_mm == zone.sensing.smallest_window_mm
        passes_mm = at_least(smallest_mm / zone.scale)
        yield Refusal(
            say(
                "window is smaller than {what}",
                what="the type can hold" if held else "this rig can prove at this tolerance",
            ),
            say("{far_mm:g} mm", far_mm=(setting.far_mm or 0.0) - (setting.near_mm or 0.0)),
            say("{passes_mm:g} mm or more", passes_mm=passes_mm),
            "setting.far_mm",
            round((setting.near_mm or 0.0) + passes_mm, 6),
        )
