"""Random orders with the airs of their machines, on benches as wrong as their profiles own that they may be."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from hal.simulated.truths import AirTruth
from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.planning.refusal import PlanRefused
from sequences.need import AirNeed, Need
from sequences.order import Order, Setting
from sequences.sensor_type import SensorType
from tests.rig.planned import BY_HAND, STAGE, TYPES, Job
from wiring.profile import RigProfile
from wiring.terms import DetectionMode

# What does not compensate comes twice as often: the air moves nothing else as far.
_NAMES = [*TYPES, *(name for name, one in TYPES.items() if not one.sensing.temperature_compensated)]
_COLDEST_C, _WARMEST_C = -20.0, 50.0
# Weather moves the pressure by some 3 % about that of the altitude.
_WEATHER = 0.03


@dataclass(frozen=True)
class Trial:
    """An order that can be done, and the truth about both its airs and its bench.

    Attributes:
        bench: the air on the bench.
        machine: airs that the machine stands in at times: the middle of its span first, then others.
        zero_mm: how far the zero of the nest is off.

    """

    made: Job
    plan: Plan
    bench: AirTruth
    machine: tuple[AirTruth, ...]
    zero_mm: float
    seed: int

    @property
    def need(self) -> Need:
        assert self.made.order.need is not None
        return self.made.order.need

    @property
    def compensated(self) -> bool:
        return self.made.sensor_type.sensing.temperature_compensated

    @property
    def kelvin(self) -> float:
        """How much warmer the machine is than the bench."""
        return self.machine[0].temperature_c - self.bench.temperature_c

    def __str__(self) -> str:
        points = ", ".join(f"{point} {at_mm:g}" for point, at_mm in self.plan.set_points)
        return (
            f"{self.plan.sensor_type} {self.plan.mode} {self.plan.output_function} {points} "
            f"+-{self.plan.tolerance_mm:g} mm, machine {self.kelvin:+.0f} K"
        )


def draw_trial(seed: int) -> Trial:
    """Some order that nothing stands against."""
    draw = random.Random(f"closed loop/{seed}")
    while True:
        try:
            made = _draw_job(draw)
            plan = make_plan(made.order, made.sensor_type, made.rig)
        except (PlanRefused, ValueError):
            continue
        assert made.order.need is not None
        assert made.order.need.air is not None
        zero_mm = draw.uniform(-1, 1) * made.rig.target.zero_error_mm
        machine = tuple(_machine_airs(draw, made.order.need.air))
        return Trial(made, plan, _bench_air(draw, made.rig), machine, zero_mm, draw.randrange(10**6))


def _draw_job(draw: random.Random) -> Job:
    sensor_type, rig = TYPES[draw.choice(_NAMES)], _draw_rig(draw)
    mode, function = draw.choice(sensor_type.offered)
    points = _draw_points(draw, sensor_type, rig, mode)
    things: dict[str, float] = {}
    if not points:
        things = _draw_objects(draw, sensor_type, rig)
    elif draw.random() < 0.6:
        things = _things_about(draw, points)
        # Set points are left to the proposal, or stay where things may be as near as they can be borne.
        points = draw.choice(({}, points))
    order = Order(
        number="QOC-0900",
        customer="Quillmere Orchard Co-op",
        quantity=1,
        sensor_type=sensor_type.name,
        serials=("QOC-1",),
        setting=Setting(
            mode=mode,
            output_function=function,
            output_type=draw.choice(sensor_type.output.types),
            **points,
        ),
        need=Need(air=_draw_air(draw, sensor_type), **things),
    )
    return Job(order, sensor_type, rig)


def _draw_rig(draw: random.Random) -> RigProfile:
    rig = STAGE if draw.random() < 0.7 else BY_HAND
    target = {
        "placement_mm": round(draw.uniform(0.1, 1.5), 2),
        "zero_error_mm": round(draw.uniform(0.05, 0.5), 2),
    }
    air = {
        "temperature_c": round(draw.uniform(15, 30), 1),
        "humidity_percent": round(draw.uniform(20, 80)),
        "pressure_kpa": round(draw.uniform(90, 103), 1),
        "temperature_error_k": round(draw.uniform(0.2, 4.0), 1),
        "humidity_error_percent": round(draw.uniform(3, 15)),
    }
    parts = {"target": rig.target.model_copy(update=target), "air": rig.air.model_copy(update=air)}
    return rig.model_copy(update=parts)


def _draw_points(
    draw: random.Random, sensor_type: SensorType, rig: RigProfile, mode: DetectionMode
) -> dict[str, float]:
    if mode is DetectionMode.FULL_RANGE:
        return {}
    sensing = sensor_type.sensing
    ends_mm = sensing.blind_zone_mm, min(sensing.range_mm, rig.target.farthest_mm)
    near_mm, far_mm = sorted(round(draw.uniform(*ends_mm), 1) for _ in range(2))
    tolerance_mm = round(draw.uniform(0.5, 1.5) + draw.uniform(0.005, 0.02) * far_mm, 1)
    if mode is DetectionMode.SINGLE_POINT:
        return {"at_mm": draw.choice((near_mm, far_mm)), "tolerance_mm": tolerance_mm}
    return {"near_mm": near_mm, "far_mm": far_mm, "tolerance_mm": tolerance_mm}


def _draw_objects(draw: random.Random, sensor_type: SensorType, rig: RigProfile) -> dict[str, float]:
    """Objects close to both ends of what can be seen at all."""
    sensing = sensor_type.sensing
    end_mm = min(sensing.range_mm, rig.target.farthest_mm)
    return {
        "nearest_mm": sensing.blind_zone_mm * draw.uniform(0.95, 1.15),
        "farthest_mm": end_mm * draw.uniform(0.8, 1.0),
    }


def _things_about(draw: random.Random, points: dict[str, float]) -> dict[str, float]:
    """Objects, background and foreground with these set points between them."""
    far_mm = points["at_mm"] if "at_mm" in points else points["far_mm"]
    room_mm = draw.uniform(0.0, 0.12) * far_mm + draw.uniform(0, 3)
    things = {"farthest_mm": far_mm - room_mm, "background_mm": far_mm + room_mm}
    near_mm = points.get("near_mm")
    if near_mm is None:
        return things | {"nearest_mm": far_mm * draw.uniform(0.3, 0.8)}
    room_mm = draw.uniform(0.0, 0.12) * near_mm + draw.uniform(0, 3)
    return things | {"foreground_mm": near_mm - room_mm, "nearest_mm": near_mm + room_mm}


def _draw_air(draw: random.Random, sensor_type: SensorType) -> AirNeed:
    sensing = sensor_type.sensing
    half_k = draw.choice((0.0, draw.uniform(0, 5)))
    half_percent = draw.choice((0.0, draw.uniform(0, 20)))
    middle_c = draw.uniform(
        max(_COLDEST_C, sensing.temperature_min_c) + half_k,
        min(_WARMEST_C, sensing.temperature_max_c) - half_k,
    )
    middle_percent = draw.uniform(half_percent, 100 - half_percent)
    place: dict[str, Any] = {"altitude_m": draw.uniform(-100, 2500)}
    if draw.random() < 0.7:
        place = {"pressure_kpa": draw.uniform(70, 105)}
    return AirNeed(
        coldest_c=middle_c - half_k,
        warmest_c=middle_c + half_k,
        driest_percent=middle_percent - half_percent,
        dampest_percent=middle_percent + half_percent,
        **place,
    )


def _bench_air(draw: random.Random, rig: RigProfile) -> AirTruth:
    told = rig.air
    percent = told.humidity_percent + draw.uniform(-1, 1) * told.humidity_error_percent
    return AirTruth(
        temperature_c=told.temperature_c + draw.uniform(-1, 1) * told.temperature_error_k,
        humidity_percent=min(100.0, max(0.0, percent)),
        pressure_kpa=told.pressure_kpa + draw.uniform(-1, 1) * told.pressure_error_kpa,
    )


def _machine_airs(draw: random.Random, told: AirNeed) -> Iterator[AirTruth]:
    """The middle of the span, an air anywhere in it, and its four corners."""
    celsius, percent = (told.coldest_c, told.warmest_c), (told.driest_percent, told.dampest_percent)
    pressure_kpa = told.pressure_kpa
    if pressure_kpa is None:
        # The barometric formula of the troposphere, as a handbook gives it (from memory).
        standard_kpa = 101.325 * (1 - 2.25577e-5 * (told.altitude_m or 0.0)) ** 5.25588
        pressure_kpa = standard_kpa * draw.uniform(1 - _WEATHER, 1 + _WEATHER)
    inside = (sum(celsius) / 2, sum(percent) / 2), (draw.uniform(*celsius), draw.uniform(*percent))
    corners = ((one_c, one_percent) for one_c in celsius for one_percent in percent)
    for one_c, one_percent in (*inside, *corners):
        yield AirTruth(temperature_c=one_c, humidity_percent=one_percent, pressure_kpa=pressure_kpa)
