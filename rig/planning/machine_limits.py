"""What stands against a setting at the machine: distances, object, speed, supply, air."""

from __future__ import annotations

import math
from collections.abc import Iterator

from rig.deciding.requirement import RANGE_END_SHARE
from rig.planning.beam_edge import slope_at
from rig.planning.case import Case
from rig.planning.echo import Plate
from rig.planning.hearing import SMALLEST_KA
from rig.planning.refusal import Refusal, too_little, too_much
from rig.planning.room_limits import room_refusals
from sequences.need import MotionNeed, SupplyNeed
from sequences.order import Setting
from wiring.saying import say
from wiring.terms import DetectionMode

_HAIR_MM = 1e-6
# An edge there is heard with a sixteenth of the power: the gap has begun.
_QUARTER_POWER_DB = -6.0
# The background is taken to be a wall: flat, hard, square, larger than the beam.
_WALL = Plate(2000.0, 2000.0)


def machine_refusals(case: Case, setting: Setting) -> Iterator[Refusal]:
    """Everything at the machine, as far as the need states it, that stands against a setting with a mode."""
    need = case.need
    yield from _air_refusals(case)
    if need.supply is not None:
        yield from _supply_refusals(case, need.supply)
    yield from _distance_refusals(case, setting)
    yield from _object_refusals(case, setting)
    if need.motion is not None:
        yield from _motion_refusals(case, need.motion)
    yield from _mode_refusals(case, setting)
    yield from room_refusals(case, setting)


def blind_mm(case: Case) -> float:
    """The nearest distance at the machine that is clear of the blind zone in all of its air."""
    blind = case.bench_sensing.blind_zone_mm
    clear = blind + case.doubt.expanded_mm(blind)
    return clear / case.conditions.scale * (1 + case.conditions.drift_outward)


def heard_up_to_mm(case: Case, wanted_mm: float, mode: DetectionMode | None) -> float:
    """The farthest distance at the machine at which the object is heard in all of its air, `wanted_mm` at most."""
    proven_mm = math.inf
    if mode is DetectionMode.FULL_RANGE:
        proven_mm = case.bench_sensing.range_mm * RANGE_END_SHARE / case.conditions.scale
        proven_mm *= 1 - case.conditions.drift_inward
    return min(proven_mm, case.hearing.heard_up_to_mm(wanted_mm, case.conditions.airs()))


def gap_needed_mm(case: Case, motion: MotionNeed) -> float:
    """The shortest gap that is noticed at a speed: the beam must be free of either object for a response time."""
    farthest_mm = case.need.farthest_mm or case.sensing.range_mm
    beam = case.hearing.sensor.beam(case.conditions.machine)
    free_mm = 1000 * motion.speed_m_s * case.sensor_type.timing.response_off_s
    return 2 * farthest_mm * slope_at(beam, _QUARTER_POWER_DB) + free_mm


def fastest_m_s(case: Case, motion: MotionNeed) -> float:
    """The highest speed at which an object is in front of the unit for a whole response time."""
    return motion.object_length_mm / 1000 / case.sensor_type.timing.response_on_s


def _air_refusals(case: Case) -> Iterator[Refusal]:
    air, sensing = case.need.air, case.sensing
    if air is None:
        return
    if air.coldest_c < sensing.temperature_min_c:
        what = "air at the machine gets colder than the type stands"
        yield too_little(what, air.coldest_c, sensing.temperature_min_c, "°C", "need.air.coldest_c")
    if air.warmest_c > sensing.temperature_max_c:
        what = "air at the machine gets warmer than the type stands"
        yield too_much(what, air.warmest_c, sensing.temperature_max_c, "°C", "need.air.warmest_c")


def _supply_refusals(case: Case, wanted: SupplyNeed) -> Iterator[Refusal]:
    supply, output = case.sensor_type.supply, case.sensor_type.output
    if wanted.lowest_v < supply.voltage_min_v:
        what = "supply at the machine falls lower than the type stands"
        yield too_little(what, wanted.lowest_v, supply.voltage_min_v, "V", "need.supply.lowest_v")
    if wanted.highest_v > supply.voltage_max_v:
        what = "supply at the machine rises higher than the type stands"
        yield too_much(what, wanted.highest_v, supply.voltage_max_v, "V", "need.supply.highest_v")
    if wanted.load_current_a is not None and wanted.load_current_a > output.load_current_max_a:
        what, key = "load draws more than the output can carry", "need.supply.load_current_a"
        yield too_much(what, wanted.load_current_a, output.load_current_max_a, "A", key, decimals=3)


def _distance_refusals(case: Case, setting: Setting) -> Iterator[Refusal]:
    need, nearest_mm = case.need, blind_mm(case)
    if need.nearest_mm is not None and need.nearest_mm < nearest_mm - _HAIR_MM:
        yield too_little(
            "objects come into the blind zone",
            need.nearest_mm,
            nearest_mm,
            "mm",
            "need.nearest_mm",
            because=say(
                "blind zone {blind_zone_mm:g} mm, with its guard and the machine's air",
                blind_zone_mm=case.sensing.blind_zone_mm,
            ),
        )
    if need.farthest_mm is None:
        return
    farthest_mm = heard_up_to_mm(case, need.farthest_mm, setting.mode)
    if need.farthest_mm > farthest_mm + _HAIR_MM:
        yield too_much(
            say("objects go farther than the type surely hears them ({words})", words=case.hearing.words),
            need.farthest_mm,
            farthest_mm,
            "mm",
            "need.farthest_mm",
            because=say(
                "sensing range {range_mm:g} mm on its standard target", range_mm=case.sensing.range_mm
            ),
        )


def _object_refusals(case: Case, setting: Setting) -> Iterator[Refusal]:
    wanted, hearing = case.need.object, case.hearing
    if wanted is None or hearing.loose:
        return
    beam = hearing.sensor.beam(case.conditions.machine)
    ka = hearing.ka(beam.wavelength_mm)
    if ka < SMALLEST_KA:
        sizes_mm = {
            key: getattr(wanted, key) for key in ("width_mm", "height_mm", "diameter_mm", "length_mm")
        }
        key, smallest_mm = min(
            ((key, mm) for key, mm in sizes_mm.items() if mm is not None), key=lambda size: size[1]
        )
        what = "object is too small against the wavelength for its echo to be foretold"
        yield too_little(what, smallest_mm, smallest_mm * SMALLEST_KA / ka, "mm", f"need.object.{key}")
    largest_deg = least_tilt_deg(case, setting)
    if wanted.tilt_deg is not None and largest_deg is not None and wanted.tilt_deg > largest_deg:
        what = "object is tilted so far that its echo leaves the beam"
        yield too_much(what, wanted.tilt_deg, largest_deg, "degrees", "need.object.tilt_deg")


def least_tilt_deg(case: Case, setting: Setting) -> float | None:
    """The tilt at which the echo of the farthest object leaves the beam: the least of all; None without a side."""
    points_mm = setting.set_points_mm.values()
    farthest_mm = case.need.farthest_mm or max(points_mm, default=case.sensing.range_mm)
    return case.hearing.largest_tilt_deg(farthest_mm, case.hearing.sensor.beam(case.conditions.machine))


def background_heard_db(case: Case) -> float | None:
    """How far the echo of a wall as the background lies above the weakest that is heard; None without one."""
    if case.need.background_mm is None:
        return None
    sensor = case.hearing.sensor
    echoes_db = (sensor.echo_db(_WALL, case.need.background_mm, air) for air in case.conditions.airs())
    return max(echoes_db) - sensor.weakest_echo_db()


def _mode_refusals(case: Case, setting: Setting) -> Iterator[Refusal]:
    function = case.need.output_function
    if function is not None and setting.output_function is not function:
        what = say(
            "with this output function a broken wire is not taken for {broken_wire_reads}",
            broken_wire_reads=case.need.broken_wire_reads,
        )
        given, key = str(setting.output_function), "setting.output_function"
        yield Refusal(what, given, str(function), key, str(function))
    heard_db = background_heard_db(case)
    if case.need.foreground_mm is not None and setting.mode is not DetectionMode.WINDOW:
        what = say(
            "{mode} also reports what stands in front, up to {foreground_mm:g} mm",
            mode=setting.mode,
            foreground_mm=case.need.foreground_mm,
        )
        yield _other_mode(setting, what, "window", "window")
    elif setting.mode is DetectionMode.FULL_RANGE and heard_db is not None and heard_db >= 0:
        what = say(
            "full-range also reports the background at {background_mm:g} mm, which is heard there",
            background_mm=case.need.background_mm,
        )
        yield _other_mode(setting, what, "single-point or window", "single-point")


def _other_mode(setting: Setting, what: str, nearest: str, passes: str) -> Refusal:
    # Set points that are ordered belong to their mode: another one alone would not do.
    return Refusal(
        what, str(setting.mode), nearest, "setting.mode", None if setting.set_points_mm else passes
    )


def _motion_refusals(case: Case, motion: MotionNeed) -> Iterator[Refusal]:
    timing, largest_m_s = case.sensor_type.timing, fastest_m_s(case, motion)
    if motion.speed_m_s > largest_m_s:
        yield too_much(
            "objects pass faster than the output responds",
            motion.speed_m_s,
            largest_m_s,
            "m/s",
            "need.motion.speed_m_s",
            decimals=3,
            because=say(
                "{object_length_mm:g} mm in {response_on_s:g} s",
                object_length_mm=motion.object_length_mm,
                response_on_s=timing.response_on_s,
            ),
        )
    if motion.gap_mm is not None and motion.gap_mm < (needed_mm := gap_needed_mm(case, motion)):
        yield too_little(
            "gap between objects is too short for the output to let go",
            motion.gap_mm,
            needed_mm,
            "mm",
            "need.motion.gap_mm",
            because=say(
                "width of the beam, and the way in {response_off_s:g} s", response_off_s=timing.response_off_s
            ),
        )
