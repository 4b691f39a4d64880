"""A taught unit on a simulated hand bench: a person slides the target, over pins, wire and screen as on a real one."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Any

from hal.bench import open_bench
from hal.simulated.bench import make_bench
from hal.simulated.benchfile import BenchFile
from hal.simulated.person import Person
from rig.chronicle import Chronicle, TimeBase
from rig.edges.edge import EdgeResult
from rig.edges.task import EdgeTask, tasks_for
from rig.events import Stamped
from rig.sequencer.work import Work
from tests.rig.measuring.units import OnBench, measure_edge
from tests.rig.planned import Job
from wiring.profile import RigProfile, Slot, TargetKind, TargetProfile, find_profile, load_profile

GAUGE = load_profile(find_profile("hand-gauge"))
SCALE = GAUGE.model_copy(update={"target": GAUGE.target.model_copy(update={"gauge": None})})
PLACES = {"GPIO9": 180.0, "GPIO10": 196.0, "GPIO11": 210.0, "GPIO12": 300.0, "GPIO6": 380.0}
PLACES |= {"GPIO20": 394.0, "GPIO21": 402.0, "GPIO27": 412.0, "GPIO2": 430.0}
IN_SLOTS = TargetProfile(
    kind=TargetKind.SLOTS,
    farthest_mm=1000.0,
    placement_mm=0.2,
    slots=tuple(
        Slot(number=number, position_mm=at_mm, line=line)
        for number, (line, at_mm) in enumerate(PLACES.items(), start=1)
    ),
)
SLOTS = GAUGE.model_copy(update={"target": IN_SLOTS})


@dataclass
class ByHand(OnBench):
    """A hand bench: also who stands before it, and what hangs on its wires."""

    person: Person
    wires: dict[str, Any]


@asynccontextmanager
async def by_hand(
    made: Job,
    *,
    rig: RigProfile = GAUGE,
    seed: int = 1,
    bench: dict[str, Any] | None = None,
    taught: dict[str, Any] | None = None,
    **row: Any,
) -> AsyncIterator[ByHand]:
    """A unit set as the job says (or as `taught` says) in the nest, a person before the screen; the bench is armed."""
    loop = asyncio.get_running_loop()
    memory = {"mode": made.setting.mode, "output_function": made.setting.output_function}
    memory |= dict(zip(("near_mm", "far_mm"), made.setting.set_points_mm.values(), strict=False))
    unit_row = {"kind": made.sensor_type.name, "arrives": memory | (taught or {}), **row}
    furnished = BenchFile.model_validate(
        {"title": "by hand", "seed": seed, "unit": [unit_row], **(bench or {})}
    )
    simulated = make_bench(rig, furnished, loop)
    events: list[Stamped] = []
    async with await open_bench(rig, simulated.pin_factory, simulated.wires) as opened:
        simulated.person.attach(opened.operator)
        unit = simulated.next_unit()
        assert unit is not None
        chronicle = Chronicle(loop, None, TimeBase())
        chronicle.watch(events.append)
        await opened.interlock.arm()
        work = Work(opened, opened.nests[0], made.plan, chronicle)
        await work.power_on()
        yield ByHand(
            work, unit, simulated.world, opened, made, events, simulated.person, dict(simulated.wires)
        )


def tasks_of(there: OnBench, wanted_mm: float = 1.0) -> Sequence[EdgeTask]:
    """The edges of the unit's setting."""
    target = there.bench.profile.target
    return tasks_for(there.made.setting, there.made.sensor_type, target, wanted_mm=wanted_mm)


async def measure(there: OnBench, task: EdgeTask) -> EdgeResult:
    return await measure_edge(there.work, task)
