"""A taught unit on the simulated bench, ready to be measured."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Any, Literal, TypeVar

from hal.bench import Bench, open_bench
from hal.simulated.bench import make_bench
from hal.simulated.benchfile import BenchFile
from hal.simulated.clock import JumpingLoop
from hal.simulated.unit import Unit
from hal.simulated.world import World
from rig.chronicle import Chronicle, TimeBase
from rig.edges.edge import EdgeResult
from rig.edges.task import EdgeTask, edge_tasks
from rig.events import Stamped
from rig.measuring.measure import EdgeMeasurement, port_on
from rig.sequencer.work import Work
from tests.rig.planned import STAGE, Job, job
from wiring.profile import RigProfile

T = TypeVar("T")


async def measure_edge(work: Work, task: EdgeTask) -> EdgeResult:
    return await EdgeMeasurement(port_on(work, task.response_s), task).measure()


@dataclass
class OnBench:
    """What a test of measuring needs: the work to hand over, and the truth behind it."""

    work: Work
    unit: Unit
    world: World
    bench: Bench
    made: Job
    events: list[Stamped]

    def tasks(self, wanted_mm: float = 0.5) -> tuple[EdgeTask, ...]:
        """The edges of the unit's setting."""
        return edge_tasks(
            self.made.setting, self.made.sensor_type, self.bench.profile.target, wanted_mm=wanted_mm
        )


def point_of(at_mm: float, kind: str = "barrel-18-rail", function: str = "NO", **how: Any) -> Job:
    """A single-point setting."""
    return job(kind, "single-point", function, at_mm=at_mm, tolerance_mm=20.0, **how)


def window_of(near_mm: float, far_mm: float, kind: str = "barrel-18-rail", function: str = "NO") -> Job:
    """A window setting."""
    return job(kind, "window", function, near_mm=near_mm, far_mm=far_mm, tolerance_mm=10.0)


@asynccontextmanager
async def on_bench(
    made: Job, *, rig: RigProfile = STAGE, seed: int = 1, taught: dict[str, Any] | None = None, **row: Any
) -> AsyncIterator[OnBench]:
    """A unit that is set as the job says (or as `taught` says), in the nest and awake; the bench is armed."""
    loop = asyncio.get_running_loop()
    memory = {"mode": made.setting.mode, "output_function": made.setting.output_function}
    points_mm = list(made.setting.set_points_mm.values())
    memory |= dict(zip(("near_mm", "far_mm"), points_mm, strict=False))
    unit_row = {"kind": made.sensor_type.name, "arrives": memory | (taught or {}), **row}
    furnished = BenchFile.model_validate({"title": "measuring", "seed": seed, "unit": [unit_row]})
    simulated = make_bench(rig, furnished, loop)
    events: list[Stamped] = []
    async with await open_bench(rig, simulated.pin_factory, simulated.wires) as bench:
        unit = simulated.next_unit()
        assert unit is not None
        chronicle = Chronicle(loop, None, TimeBase())
        chronicle.watch(events.append)
        await bench.interlock.arm()
        work = Work(bench, bench.nests[0], made.plan, chronicle)
        await work.power_on()
        yield OnBench(work, unit, simulated.world, bench, made, events)


def run(job_on_loop: Callable[[], Coroutine[Any, Any, T]]) -> T:
    """Run on the jumping clock."""
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        return runner.run(job_on_loop())


def misses(result: EdgeResult, there: OnBench, edge: Literal["near", "far"] = "far") -> list[float]:
    """Errors of operate point, release point and differential travel, in expanded uncertainties."""
    operate_mm, release_mm = there.unit.true_operate_mm(edge), there.unit.true_release_mm(edge)
    figures = result.figures
    pairs = (
        (figures.operate_mm, operate_mm),
        (figures.release_mm, release_mm),
        (figures.travel_mm, abs(release_mm - operate_mm)),
    )
    return [abs(found.value - true_mm) / found.expanded for found, true_mm in pairs]
