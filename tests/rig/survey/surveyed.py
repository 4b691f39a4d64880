"""Units that are already set, surveyed on the simulated bench over pins and wires, with the truth behind them."""

from __future__ import annotations

import asyncio
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from hal.bench import open_bench
from hal.simulated.air import TRIM_M_S, speed_of_sound_m_s
from hal.simulated.bench import make_bench
from hal.simulated.benchfile import BenchFile
from hal.simulated.clock import JumpingLoop
from hal.simulated.kind import shipped_kinds
from hal.simulated.record import Record
from hal.simulated.unit import Unit
from rig.chronicle import Chronicle, TimeBase
from rig.events import EdgeMeasured, Event, Stamped, UnitJudged, UnitRecognised
from rig.sequencer.desk import Listed
from rig.sequencer.findings import Finding, Reason
from rig.sequencer.order_run import OrderRun
from rig.survey.bounds import bounds_of
from rig.survey.job import SurveyedUnit, survey_job
from sequences.sensor_type import SensorType
from tests.rig.planned import STAGE, TYPES, Job, guard_at_mm, job
from wiring.profile import RigProfile
from wiring.terms import DetectionMode

_E = TypeVar("_E", bound=Event)


@dataclass(frozen=True)
class Surveyed:
    """What a survey came to, and what really happened."""

    finding: Finding
    events: Sequence[Stamped]
    record: Record
    contacts: int
    true_mm: dict[str, float]

    def noted(self, kind: type[_E]) -> list[_E]:
        return [one.event for one in self.events if isinstance(one.event, kind)]

    @property
    def recognised(self) -> tuple[str, str, str]:
        """Mode, output function and output type, as recorded."""
        (one,) = self.noted(UnitRecognised)
        return one.mode, one.output_function, one.output_type

    @property
    def misses(self) -> dict[str, float]:
        """Error of each operate point, in expanded uncertainties."""
        return {
            one.edge: abs(one.operate_mm - self.true_mm[one.edge]) / one.operate_u_mm
            for one in self.noted(EdgeMeasured)
        }


def survey(
    type_name: str,
    arrives: dict[str, Any] | None = None,
    *,
    rig: RigProfile = STAGE,
    seed: int = 1,
    bench: dict[str, Any] | None = None,
    **row: Any,
) -> Surveyed:
    """Survey one unit that comes with a setting; the factory setting if none is given."""
    made = {"kind": type_name, **({"arrives": arrives} if arrives else {}), **row}
    furnished = BenchFile.model_validate({"title": "survey", "seed": seed, "unit": [made], **(bench or {})})
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        return runner.run(_survey(TYPES[type_name], rig, furnished))


async def _survey(sensor_type: SensorType, rig: RigProfile, furnished: BenchFile) -> Surveyed:
    loop = asyncio.get_running_loop()
    simulated = make_bench(rig, furnished, loop)
    (nest,) = simulated.world.nests.values()
    events: list[Stamped] = []
    units: list[Unit] = []
    contacts: list[int] = []
    nest.on_contact.append(lambda: contacts.append(simulated.world.now_ns))
    async with await open_bench(rig, simulated.pin_factory, simulated.wires) as opened:
        simulated.person.attach(opened.operator)
        chronicle = Chronicle(loop, None, TimeBase())
        chronicle.watch(events.append)
        chronicle.watch(lambda _: units.append(nest.unit) if nest.unit is not None else None)
        made = survey_job(SurveyedUnit("SV-1", "S-1"), sensor_type, rig, bounds_of(sensor_type, rig))
        await OrderRun(opened, chronicle, made, Listed(("S-1",)), "test").run()
    unit = units[0]
    true_mm = {"outer": unit.true_operate_mm("far"), "inner": unit.true_operate_mm("near")}
    judged = next(one.event for one in events if isinstance(one.event, UnitJudged))
    finding = Finding(judged.verdict, Reason(judged.reason), judged.words)
    return Surveyed(finding, events, simulated.world.record, len(contacts), true_mm)


@dataclass(frozen=True)
class SetUnit:
    """A unit that somebody has set well: what the order said, and the row of the bench file."""

    made: Job
    row: dict[str, Any]
    seed: int

    @property
    def expected(self) -> tuple[str, str, str]:
        setting = self.made.setting
        return str(setting.mode), str(setting.output_function), str(setting.output_type)

    def survey(self) -> Surveyed:
        """Survey it on a bench whose scale is as wrong as its profile owns that it may be, one way or the other."""
        draw, target = random.Random(self.seed), STAGE.target
        truth = {
            "zero_mm": draw.uniform(-1, 1) * target.zero_error_mm,
            "scale_percent": draw.uniform(-1, 1) * target.scale_error_percent,
        }
        return survey(self.made.sensor_type.name, seed=self.seed, bench={"target": truth}, **self.row)


def set_units(count: int, seed: int) -> Iterator[SetUnit]:
    """Units of every shipped type and setting in turn, at set points drawn from all that planning allows."""
    draw = random.Random(seed)
    offered = [
        (one, *offer, out) for one in TYPES.values() for offer in one.offered for out in one.output.types
    ]
    number = 0
    while number < count:
        sensor_type, mode, function, output_type = offered[number % len(offered)]
        distances_mm = _distances_mm(sensor_type, mode, draw)
        try:
            made = job(sensor_type.name, mode, function, output_type=output_type, **distances_mm)
            assert made.plan
        except ValueError:
            continue
        own = [at_mm * _scale(sensor_type) for at_mm in made.setting.set_points_mm.values()]
        arrives = {
            "mode": mode,
            "output_function": function,
            **dict(zip(("near_mm", "far_mm"), own, strict=False)),
        }
        yield SetUnit(
            made, {"arrives": arrives, "change": {"output_type": output_type}}, draw.randrange(2**31)
        )
        number += 1


def _distances_mm(sensor_type: SensorType, mode: DetectionMode, draw: random.Random) -> dict[str, float]:
    """Often as close to the ends of the range, or to one another, as the finest tolerance allows."""
    sensing = sensor_type.sensing
    if mode is DetectionMode.FULL_RANGE:
        return {}
    room_mm = sensing.range_mm - sensing.blind_zone_mm
    keys = ("at_mm",) if mode is DetectionMode.SINGLE_POINT else ("near_mm", "far_mm")
    points_mm = sorted(round(sensing.blind_zone_mm + room_mm * _share(draw), 1) for _ in keys)
    if len(keys) > 1 and draw.random() < 0.3:
        points_mm[1] = round(points_mm[0] + sensing.smallest_window_mm * draw.uniform(1.0, 1.5), 1)
    tolerance_mm = round(2.02 * guard_at_mm(sensor_type, STAGE, points_mm[-1]) + 0.11, 2)
    return {**dict(zip(keys, points_mm, strict=True)), "tolerance_mm": tolerance_mm}


def _share(draw: random.Random) -> float:
    return draw.choice([draw.random(), draw.uniform(0.0, 0.06), draw.uniform(0.94, 1.0)])


def _scale(sensor_type: SensorType) -> float:
    """What such a unit takes a distance for, in the air of the bench."""
    air = STAGE.air
    speed_m_s = speed_of_sound_m_s(air.temperature_c, air.humidity_percent, air.pressure_kpa)
    return 1 + shipped_kinds()[sensor_type.name].residual * (TRIM_M_S / speed_m_s - 1)
