"""Random orders from need to machine: planned, taught on the simulated bench, then put into the machine's air.

The physics knows nothing of planning. Its speed of sound follows another law, and its bench is as wrong as the rig
profile owns that it may be: air, zero of the nest, placement.
"""

from __future__ import annotations

import asyncio
import random
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from hal.bench import Bench
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import AirTruth, Arrival, BenchFile, PersonTruth, UnitRow
from hal.simulated.clock import JumpingLoop
from hal.simulated.faults import BenchFault
from hal.simulated.memory import Memory
from hal.simulated.unit import Unit
from rig.events import Stamped
from rig.planning.air import pressure_at_altitude_kpa
from rig.planning.compile import make_plan
from rig.planning.grounds import PointGrounds
from rig.planning.plan import Plan
from rig.planning.refusal import PlanRefused
from rig.sequencer.findings import Finding
from sequences.need import AirNeed, Need
from sequences.order import Setting
from sequences.sensor_type import SensorType
from sequences.words import SetPoint
from tests.rig.planned import BY_HAND, STAGE, TYPES, Job, job
from tests.rig.sequencer.floor import work_through
from wiring.profile import RigProfile
from wiring.terms import DetectionMode


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
    def compensated(self) -> bool:
        return self.made.sensor_type.sensing.temperature_compensated

    @property
    def kelvin(self) -> float:
        """How much warmer the machine is than the bench."""
        return self.machine[0].temperature_c - self.bench.temperature_c


@dataclass(frozen=True)
class Landed:
    """Where one set point came out, in the middle of the machine's air and in others."""

    trial: Trial
    grounds: PointGrounds
    middle_mm: float
    others_mm: tuple[float, ...]

    @property
    def off_mm(self) -> float:
        return self.middle_mm - self.grounds.machine_mm

    @property
    def uncorrected_mm(self) -> float:
        """Where it would have come out had the target stood on the bench at the distance of the machine."""
        return self.middle_mm * self.grounds.machine_mm / self.grounds.bench_mm


@dataclass(frozen=True)
class Lived:
    """What became of the unit of one trial."""

    trial: Trial
    on_bench: Finding
    landed: tuple[Landed, ...]


def live(trial: Trial) -> Lived:
    """Plan, teach on the bench, and look where the unit switches at the machine."""
    memory, finding = taught(trial)
    zones = tuple(zone_mm(trial, memory, air) for air in trial.machine)
    landed = tuple(
        Landed(trial, point, *_split([zone[point.point is not SetPoint.NEAR] for zone in zones]))
        for point in trial.plan.grounds.points
    )
    return Lived(trial, finding, landed)


def _split(places_mm: list[float]) -> tuple[float, tuple[float, ...]]:
    return places_mm[0], tuple(places_mm[1:])


def taught(trial: Trial) -> tuple[Memory, Finding]:
    """Do the whole order; what its unit remembers, and the verdict on it."""
    units: list[Unit] = []

    def look(_: Stamped, simulated: SimulatedBench, __: Bench) -> None:
        unit = simulated.world.nests["A"].unit
        if unit is not None and unit not in units:
            units.append(unit)

    rows, zero = (UnitRow(),), BenchFault(kind="target-misplaced", offset_mm=trial.zero_mm)
    shift = work_through(
        trial.made, plan=trial.plan, furnished=_furnished(trial, trial.bench, rows, (zero,)), look=look
    )
    (unit,) = units
    return unit.memory, shift.finding


def _furnished(
    trial: Trial, air: AirTruth, rows: tuple[UnitRow, ...], faults: tuple[BenchFault, ...] = ()
) -> BenchFile:
    person = PersonTruth(placement_mm=trial.made.rig.target.placement_mm)
    furnished = BenchFile(
        title="closed loop", seed=trial.seed, air=air, person=person, unit=rows, fault=faults
    )
    return furnished.as_ordered(trial.made.order.sensor_type, trial.made.setting.output_type)


def _arrives(memory: Memory) -> Arrival:
    return Arrival(
        mode=memory.mode, output_function=memory.function, near_mm=memory.near_mm, far_mm=memory.far_mm
    )


def zone_mm(trial: Trial, memory: Memory, air: AirTruth) -> tuple[float, float]:
    """Where a unit with that memory really switches in an air."""
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        furnished = _furnished(trial, air, (UnitRow(arrives=_arrives(memory)),))
        unit = simulate(trial.made.rig, furnished, runner.get_loop()).next_unit()
        assert unit is not None
        unit.store(unit.memory)
        return unit.true_operate_mm("near"), unit.true_operate_mm("far")


def draw_trial(seed: int) -> Trial:
    draw = random.Random(f"closed loop/{seed}")
    while True:
        try:
            made = _draw_job(draw)
            plan = make_plan(made.order, made.sensor_type, made.rig)
        except (PlanRefused, ValueError):
            continue
        return Trial(
            made,
            plan,
            _true_bench_air(draw, made.rig),
            tuple(_machine_airs(draw, made.order.need.air)),
            draw.uniform(-1, 1) * made.rig.target.zero_error_mm,
            draw.randrange(10**6),
        )


def _draw_job(draw: random.Random) -> Job:
    sensor_type = draw.choice(list(TYPES.values()))
    mode, function = draw.choice(sensor_type.offered)
    rig = _draw_rig(draw)
    points = _draw_points(draw, sensor_type, rig, mode)
    need: dict[str, Any] = {}
    if points and draw.random() < 0.3:
        need, points = _need_instead(draw, points), {}
    setting = Setting(
        mode=mode, output_function=function, output_type=draw.choice(sensor_type.output.types), **points
    )
    order = job("barrel-18-rail", at_mm=400, tolerance_mm=8).order
    fields = order.model_dump() | {
        "sensor_type": sensor_type.name,
        "setting": setting,
        "need": Need(air=_draw_air(draw, sensor_type), **need),
    }
    return Job(type(order)(**fields), sensor_type, rig)


def _draw_rig(draw: random.Random) -> RigProfile:
    rig = STAGE if draw.random() < 0.7 else BY_HAND
    target = rig.target.model_copy(
        update={
            "placement_mm": round(draw.uniform(0.1, 1.5), 2),
            "zero_error_mm": round(draw.uniform(0.05, 0.5), 2),
        }
    )
    air = rig.air.model_copy(
        update={
            "temperature_c": round(draw.uniform(15, 30), 1),
            "humidity_percent": round(draw.uniform(20, 80)),
            "pressure_kpa": round(draw.uniform(90, 103), 1),
            "temperature_error_k": round(draw.uniform(0.2, 2.0), 1),
            "humidity_error_percent": round(draw.uniform(3, 15)),
        }
    )
    return rig.model_copy(update={"target": target, "air": air})


def _draw_points(
    draw: random.Random, sensor_type: SensorType, rig: RigProfile, mode: DetectionMode
) -> dict[str, float]:
    if mode is DetectionMode.FULL_RANGE:
        return {}
    sensing = sensor_type.sensing
    first, last = sensing.blind_zone_mm, min(sensing.range_mm, rig.target.farthest_mm)
    near, far = sorted(round(draw.uniform(first, last), 1) for _ in range(2))
    tol = round((draw.uniform(0.5, 1.5) + draw.uniform(0.005, 0.02) * far), 1)
    if mode is DetectionMode.SINGLE_POINT:
        return {"at_mm": draw.choice((near, far)), "tolerance_mm": tol}
    return {"near_mm": near, "far_mm": far, "tolerance_mm": tol}


def _need_instead(draw: random.Random, points: dict[str, float]) -> dict[str, float]:
    """Objects, background and foreground from which about the same set points are proposed."""
    far = points["at_mm"] if "at_mm" in points else points["far_mm"]
    room = draw.uniform(0.04, 0.15) * far + draw.uniform(2, 10)
    need = {"farthest_mm": far - room, "background_mm": far + room}
    near = points.get("near_mm")
    if near is None:
        return need | {"nearest_mm": far * draw.uniform(0.3, 0.8)}
    room = draw.uniform(0.04, 0.15) * near + draw.uniform(2, 10)
    return need | {"foreground_mm": near - room, "nearest_mm": near + room}


def _draw_air(draw: random.Random, sensor_type: SensorType) -> AirNeed:
    sensing = sensor_type.sensing
    lo, hi = max(-20.0, sensing.temperature_min_c), min(50.0, sensing.temperature_max_c)
    half_k = draw.choice((0.0, 0.0, draw.uniform(0, 5)))
    mid = draw.uniform(lo + half_k, hi - half_k)
    half_h = draw.choice((0.0, draw.uniform(0, 20)))
    hum = draw.uniform(half_h, 100 - half_h)
    where = (
        {"pressure_kpa": draw.uniform(70, 105)}
        if draw.random() < 0.7
        else {"altitude_m": draw.uniform(-100, 2500)}
    )
    return AirNeed(
        coldest_c=mid - half_k,
        warmest_c=mid + half_k,
        driest_percent=hum - half_h,
        dampest_percent=hum + half_h,
        **where,
    )


def _true_bench_air(draw: random.Random, rig: RigProfile) -> AirTruth:
    air = rig.air
    return AirTruth(
        temperature_c=air.temperature_c + draw.uniform(-1, 1) * air.temperature_error_k,
        humidity_percent=min(
            100, max(0, air.humidity_percent + draw.uniform(-1, 1) * air.humidity_error_percent)
        ),
        pressure_kpa=air.pressure_kpa + draw.uniform(-1, 1) * air.pressure_error_kpa,
    )


def _machine_airs(draw: random.Random, air: AirNeed) -> Iterator[AirTruth]:
    pressure = air.pressure_kpa
    if pressure is None:
        # Weather moves it by some 3 % about that of the altitude.
        pressure = pressure_at_altitude_kpa(air.altitude_m) * draw.uniform(0.97, 1.03)
    cs = (air.coldest_c, air.warmest_c)
    hs = (air.driest_percent, air.dampest_percent)
    yield AirTruth(temperature_c=sum(cs) / 2, humidity_percent=sum(hs) / 2, pressure_kpa=pressure)
    yield AirTruth(temperature_c=draw.uniform(*cs), humidity_percent=draw.uniform(*hs), pressure_kpa=pressure)
    for c in cs:
        for h in hs:
            yield AirTruth(temperature_c=c, humidity_percent=h, pressure_kpa=pressure)
