"""What a need says of the machine, in words."""

from __future__ import annotations

from collections.abc import Callable

from rig.planning.grounds import Fact
from sequences.need import AirNeed, MotionNeed, MountingNeed, Need, ObjectNeed, ObjectShape, SupplyNeed


def facts_of(need: Need | None) -> tuple[Fact, ...]:
    """What a need states, each fact under its name; nothing for an order without one."""
    if need is None:
        return ()
    told = ((name, words(need)) for name, words in _WORDS)
    return tuple(Fact(name, value) for name, value in told if value)


def object_words(wanted: ObjectNeed) -> str:
    """An object in words."""
    match wanted.shape:
        case ObjectShape.PLATE:
            size = f"plate {wanted.width_mm:g} x {wanted.height_mm:g} mm"
        case ObjectShape.BAR:
            size = f"bar {wanted.diameter_mm:g} mm thick, {wanted.length_mm:g} mm long"
        case _:
            size = "loose goods"
    tilt = "" if wanted.tilt_deg is None else f", up to {wanted.tilt_deg:g} degrees out of square"
    return f"{wanted.surface} {size}{tilt}"


def _mounting(mounting: MountingNeed) -> str:
    parts = []
    if mounting.side_wall_mm is not None:
        parts.append(f"wall {mounting.side_wall_mm:g} mm beside the axis")
    if mounting.neighbour_spacing_mm is not None:
        parts.append(f"next unit at {mounting.neighbour_spacing_mm:g} mm")
    if mounting.recess_mm is not None:
        parts.append(f"face {mounting.recess_mm:g} mm deep in a hole of {mounting.recess_diameter_mm:g} mm")
    return ", ".join(parts)


def _air(air: AirNeed | None) -> str:
    if air is None:
        return ""
    pressure = "" if air.pressure_kpa is None else f", {air.pressure_kpa:g} kPa"
    height = "" if air.altitude_m is None else f", {air.altitude_m:g} m above the sea"
    return (
        f"{air.coldest_c:g} to {air.warmest_c:g} °C, {air.driest_percent:g} to {air.dampest_percent:g} %"
        f"{pressure}{height}"
    )


def _motion(motion: MotionNeed | None) -> str:
    if motion is None:
        return ""
    gap = "" if motion.gap_mm is None else f", gaps of {motion.gap_mm:g} mm"
    return f"objects {motion.object_length_mm:g} mm long at {motion.speed_m_s:g} m/s{gap}"


def _supply(supply: SupplyNeed | None) -> str:
    if supply is None:
        return ""
    load = "" if supply.load_current_a is None else f", load {supply.load_current_a:g} A"
    return f"{supply.lowest_v:g} to {supply.highest_v:g} V{load}"


def _span(need: Need) -> str:
    return "" if need.nearest_mm is None else f"{need.nearest_mm:g} to {need.farthest_mm:g} mm"


_WORDS: tuple[tuple[str, Callable[[Need], str]], ...] = (
    ("objects at", _span),
    ("object", lambda need: object_words(need.object) if need.object else ""),
    (
        "must not be reported in front",
        lambda need: f"up to {need.foreground_mm:g} mm" if need.foreground_mm else "",
    ),
    (
        "must not be reported behind",
        lambda need: f"from {need.background_mm:g} mm" if need.background_mm else "",
    ),
    ("broken wire reads as", lambda need: need.broken_wire_reads or ""),
    ("around it", lambda need: _mounting(need.mounting)),
    ("air", lambda need: _air(need.air)),
    ("passing", lambda need: _motion(need.motion)),
    ("supply", lambda need: _supply(need.supply)),
)
