"""A self-check of a whole simulated bench, for the tests of the self-check."""

from __future__ import annotations

import asyncio
import json
from dataclasses import dataclass, field
from typing import Any

from hal.bench import open_bench
from hal.errors import TripCause, TripKind
from hal.interlock.rules import Condition
from hal.simulated import simulate
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.clock import JumpingLoop
from hal.simulated.faults import BenchFault
from hal.simulated.record import Record
from rig.chronicle import Chronicle, TimeBase
from rig.events import Stamped
from rig.selfcheck.checks import Finding, Outcome
from rig.selfcheck.run import Result, SelfCheckRun
from rig.selfcheck.work import Earlier
from rig.session import SIMULATED_START
from tests.hal.rigs import SELECTOR, TWO_RELAY
from wiring.profile import RigProfile, find_profile, load_profile


def _with_target(rig: RigProfile, **target: Any) -> RigProfile:
    data: dict[str, Any] = rig.model_dump(mode="json")
    data["target"] = {"farthest_mm": 1500.0, **target}
    return RigProfile.model_validate_json(json.dumps(data))


def _with_probe(rig: RigProfile) -> RigProfile:
    data: dict[str, Any] = rig.model_dump(mode="json")
    data["air"]["probe"] = {"port": "sim:air"}
    return RigProfile.model_validate_json(json.dumps(data))


_SLOTS = [{"number": n, "position_mm": 200.0 * n, "line": f"GPIO{line}"} for n, line in ((1, 20), (2, 21))]
RIGS = {
    "selector, stage": SELECTOR,
    "two relays, stage": TWO_RELAY,
    "by hand": _with_target(SELECTOR, kind="manual"),
    "slots": _with_target(SELECTOR, kind="slots", slots=_SLOTS),
    "probe": _with_probe(SELECTOR),
    "gauge": load_profile(find_profile("hand-gauge")),
}


@dataclass
class Checkup:
    """What a self-check found, and what really happened."""

    result: Result
    record: Record
    condition: Condition
    events: list[Stamped] = field(default_factory=list)
    took_s: float = 0.0

    def finding(self, part: str) -> Finding:
        (found,) = (one.finding for one in self.result.checked if one.check.part == part)
        return found

    @property
    def failed(self) -> list[str]:
        return [one.check.part for one in self.result.checked if one.finding.outcome is Outcome.FAILED]


def check_up(
    rig: RigProfile,
    *faults: BenchFault,
    earlier: Earlier | None = None,
    ended_after_s: float | None = None,
    **more: Any,
) -> Checkup:
    """Check a rig whose bench has these faults; somebody ends it after so long."""
    furnished = BenchFile(title="test", unit=(UnitRow(kind="barrel-18-rail"),), fault=faults, **more)
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        return runner.run(_check_up(rig, furnished, earlier or {}, ended_after_s))


async def _check_up(
    rig: RigProfile, furnished: BenchFile, earlier: Earlier, ended_after_s: float | None
) -> Checkup:
    loop = asyncio.get_running_loop()
    simulated = simulate(rig, furnished, loop)
    events: list[Stamped] = []
    async with await open_bench(rig, simulated.pin_factory, simulated.wires) as bench:
        simulated.person.attach(bench.operator)
        chronicle = Chronicle(loop, None, TimeBase(SIMULATED_START))
        chronicle.watch(events.append)
        if ended_after_s is not None:
            asked = TripCause(TripKind.ASKED, "stopped by SIGINT", "Start again when ready.")
            loop.call_later(ended_after_s, bench.interlock.trip, asked)
        result = await SelfCheckRun(bench, chronicle, earlier, "test").run()
        return Checkup(result, simulated.world.record, bench.interlock.condition, events, loop.time())
