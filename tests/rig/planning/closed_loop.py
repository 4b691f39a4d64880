"""From need to machine: planned, taught on the simulated bench, put into the machine's air and looked at there.

The physics knows nothing of planning, and its speed of sound follows another law.
"""

from __future__ import annotations

import asyncio
from dataclasses import dataclass, replace
from typing import Any

from hal.bench import Bench, open_bench
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import Arrival, BenchFile, UnitRow
from hal.simulated.clock import JumpingLoop
from hal.simulated.faults import BenchFault, UnitFault
from hal.simulated.memory import Memory
from hal.simulated.truths import AirTruth, PersonTruth
from hal.simulated.unit import Unit
from rig.chronicle import Chronicle, TimeBase
from rig.events import Stamped
from rig.planning.compile import make_plan
from rig.planning.grounds import PointGrounds
from rig.planning.plan import Plan
from rig.planning.planned import whole_setting
from rig.planning.refusal import PlanRefused
from rig.sequencer.checking import check
from rig.sequencer.findings import Finding
from rig.sequencer.work import Work
from rig.session import SIMULATED_START
from sequences.need import AirNeed, Need
from sequences.words import SetPoint
from tests.rig.planning.trials import Trial
from tests.rig.sequencer.floor import work_through
from wiring.profile import RigProfile


@dataclass(frozen=True)
class Zone:
    """Where a unit really takes an object for one, and where it lets go of it."""

    near_mm: float
    far_mm: float
    near_release_mm: float
    far_release_mm: float


@dataclass(frozen=True)
class Landed:
    """Where one set point came out, in the middle of the machine's air and in others."""

    trial: Trial
    grounds: PointGrounds
    middle_mm: float
    others_mm: tuple[float, ...]

    @property
    def uncorrected_mm(self) -> float:
        """Where it would have come out, taught on the bench at the distance that it has at the machine."""
        return self.middle_mm * self.grounds.machine_mm / self.grounds.bench_mm

    @property
    def drift_mm(self) -> float:
        """How far the machine's air may move it."""
        one = self.grounds
        return max(one.machine_mm - one.drift_nearest_mm, one.drift_farthest_mm - one.machine_mm)


@dataclass(frozen=True)
class Lived:
    """What became of the unit of one trial.

    Attributes:
        at_machine: verdict of check positions placed for the middle of the machine's air; None where the rig could
            prove nothing there.
        uncorrected: the same of a unit taught at the distances that hold at the machine; None where they are the same.
        zones: one for each air of the machine.

    """

    trial: Trial
    on_bench: Finding
    at_machine: Finding | None
    uncorrected: Finding | None
    landed: tuple[Landed, ...]
    zones: tuple[Zone, ...]


@dataclass(frozen=True)
class Misplaced:
    """A unit that stores other distances than it was shown, in the middle of the machine's air.

    Attributes:
        beyond_mm: how far its worst set point lies beyond its tolerance there, with what the air may add for a unit
            that corrects for it only by and large; below zero within.
        short_mm: the same with that taken off: above zero, no air excuses it.

    """

    trial: Trial
    on_bench: Finding
    beyond_mm: float
    short_mm: float

    @property
    def guard_mm(self) -> float:
        return max(one.guard_mm for one in self.trial.plan.grounds.points)

    def __str__(self) -> str:
        return f"{self.trial}: {self.on_bench.words}; {self.beyond_mm:+.2f}, {self.short_mm:+.2f} mm"


def live(trial: Trial) -> Lived:
    """Plan, teach on the bench, judge at the machine."""
    memory, finding = taught(trial)
    zones = tuple(zone_in(trial, memory, air) for air in trial.machine)
    landed = _landed(trial, zones)
    corrected = any(one.grounds.machine_mm != one.grounds.bench_mm for one in landed)
    return Lived(
        trial=trial,
        on_bench=finding,
        at_machine=judged(trial, memory),
        uncorrected=judged(trial, _uncorrected(memory, landed)) if corrected else None,
        landed=landed,
        zones=zones,
    )


def live_misplaced(trial: Trial, offset_mm: float) -> Misplaced:
    """The same with a unit that stores wrongly by an offset."""
    memory, finding = taught(trial, UnitFault(kind="stores-wrongly", offset_mm=offset_mm))
    landed = _landed(trial, (zone_in(trial, memory, trial.machine[0]),))
    off_mm = [abs(one.middle_mm - one.grounds.machine_mm) - one.grounds.tolerance_mm for one in landed]
    drifts_mm = [one.drift_mm if trial.compensated else 0.0 for one in landed]
    return Misplaced(
        trial,
        finding,
        beyond_mm=max(off - drift for off, drift in zip(off_mm, drifts_mm, strict=True)),
        short_mm=max(off + drift for off, drift in zip(off_mm, drifts_mm, strict=True)),
    )


def taught(trial: Trial, *faults: UnitFault) -> tuple[Memory, Finding]:
    """Do the whole order; what its unit remembers, and the verdict on it."""
    units: list[Unit] = []

    def look(_: Stamped, simulated: SimulatedBench, __: Bench) -> None:
        unit = simulated.world.nests["A"].unit
        if unit is not None and unit not in units:
            units.append(unit)

    zero = BenchFault(kind="target-misplaced", offset_mm=trial.zero_mm)
    furnished = _furnished(trial, trial.bench, UnitRow(faults=faults), zero)
    shift = work_through(trial.made, plan=trial.plan, furnished=furnished, look=look)
    (unit,) = units
    return unit.memory, shift.finding


def zone_in(trial: Trial, memory: Memory, air: AirTruth) -> Zone:
    """Where a unit with that memory really switches in an air."""
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        furnished = _furnished(trial, air, UnitRow(arrives=_arrival(memory)))
        unit = simulate(trial.made.rig, furnished, runner.get_loop()).next_unit()
        assert unit is not None
        # It has no supply yet, and holds to nothing but what it is told.
        unit.store(unit.memory)
        return Zone(
            unit.true_operate_mm("near"),
            unit.true_operate_mm("far"),
            unit.true_release_mm("near"),
            unit.true_release_mm("far"),
        )


def judged(trial: Trial, memory: Memory) -> Finding | None:
    """What check positions placed for the middle of the machine's air say there; None if none can be placed."""
    air = trial.machine[0]
    rig = _rig_in(trial.made.rig, air)
    try:
        plan = _plan_in(trial, rig)
    except PlanRefused:
        return None
    furnished = _furnished(trial, air, UnitRow(arrives=_arrival(memory)))
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        return runner.run(_judged(rig, plan, furnished))


async def _judged(rig: RigProfile, plan: Plan, furnished: BenchFile) -> Finding:
    loop = asyncio.get_running_loop()
    assert isinstance(loop, JumpingLoop)
    simulated = simulate(rig, furnished, loop)
    async with await open_bench(rig, simulated.pin_factory, simulated.wires) as bench:
        simulated.person.attach(bench.operator)
        simulated.next_unit()
        work = Work(bench, bench.nests[0], plan, Chronicle(loop, None, TimeBase(SIMULATED_START)))
        await bench.interlock.arm()
        await work.power_on()
        finding = await check(work)
        bench.interlock.rest()
        return finding


def _plan_in(trial: Trial, rig: RigProfile) -> Plan:
    """The plan of the same setting for a bench in the machine's own air: nothing is left to correct.

    A compensated unit was proven on the bench; what its correction leaves over comes on top of the tolerance.
    """
    order, air = trial.made.order, rig.air
    setting = whole_setting(order, trial.plan)
    if trial.compensated and setting.tolerance_mm is not None:
        drift_mm = max(Landed(trial, one, 0.0, ()).drift_mm for one in trial.plan.grounds.points)
        setting = setting.model_copy(update={"tolerance_mm": setting.tolerance_mm + drift_mm})
    need = Need(
        air=AirNeed(
            coldest_c=air.temperature_c,
            warmest_c=air.temperature_c,
            driest_percent=air.humidity_percent,
            dampest_percent=air.humidity_percent,
            pressure_kpa=air.pressure_kpa,
        )
    )
    there = order.model_copy(update={"setting": setting, "need": need})
    return make_plan(there, trial.made.sensor_type, rig)


def _landed(trial: Trial, zones: tuple[Zone, ...]) -> tuple[Landed, ...]:
    found = []
    for point in trial.plan.grounds.points:
        near = point.point is SetPoint.NEAR
        middle_mm, *others_mm = (zone.near_mm if near else zone.far_mm for zone in zones)
        found.append(Landed(trial, point, middle_mm, tuple(others_mm)))
    return tuple(found)


def _uncorrected(memory: Memory, landed: tuple[Landed, ...]) -> Memory:
    ratios = [one.grounds.machine_mm / one.grounds.bench_mm for one in landed]
    assert memory.near_mm is not None
    far_mm = None if memory.far_mm is None else memory.far_mm * ratios[-1]
    return replace(memory, near_mm=memory.near_mm * ratios[0], far_mm=far_mm)


def _furnished(trial: Trial, air: AirTruth, row: UnitRow, *faults: BenchFault) -> BenchFile:
    person = PersonTruth(placement_mm=trial.made.rig.target.placement_mm)
    furnished = BenchFile(
        title="closed loop", seed=trial.seed, air=air, person=person, unit=(row,), fault=faults
    )
    return furnished.as_ordered(trial.made.order.sensor_type, trial.made.setting.output_type)


def _arrival(memory: Memory) -> Arrival:
    return Arrival(
        mode=memory.mode, output_function=memory.function, near_mm=memory.near_mm, far_mm=memory.far_mm
    )


def _rig_in(rig: RigProfile, air: AirTruth) -> RigProfile:
    told: dict[str, Any] = air.model_dump(include={"temperature_c", "humidity_percent", "pressure_kpa"})
    return rig.model_copy(update={"air": rig.air.model_copy(update=told)})
