"""A whole bench at work on an order: physics, person, units and record, for the tests of the sequencer."""

from __future__ import annotations

import asyncio
import json
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from hal.bench import Bench, open_bench
from hal.interlock.rules import Condition
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.clock import JumpingLoop
from hal.simulated.faults import BenchFault, UnitFault
from hal.simulated.record import ContactSeen, Record, SelectorMovedUnderLoad
from rig.chronicle import Chronicle, TimeBase
from rig.events import Event, Stamped, UnitJudged
from rig.jobs import job_of
from rig.journal import Journal
from rig.planning.plan import Plan
from rig.sequencer.desk import Desk, Listed
from rig.sequencer.findings import Finding, Reason
from rig.sequencer.order_run import OrderResult, OrderRun
from rig.session import SIMULATED_START
from tests.hal.rigs import output_lines
from tests.rig.planned import STAGE, Job, job
from tests.rig.recount.replays import assert_recount_agrees
from wiring.profile import RigProfile

_E = TypeVar("_E", bound=Event)

# Memory takes the record as a disk does, only sooner; where it matters, tests name a file of their own.
_QUICK_DISK = "/dev/shm" if Path("/dev/shm").is_dir() else None

# Longer than any relay of the rigs takes to fall.
RELAYS_FALL_S = 0.05

SETTINGS: dict[str, Job] = {
    "18 point": job("barrel-18-rail", "single-point", "NO", at_mm=400, tolerance_mm=8),
    "18 window": job("barrel-18-rail", "window", "NC", near_mm=200, far_mm=500, tolerance_mm=8),
    "18 full": job("barrel-18-rail", "full-range", "NO"),
    "30 window": job("barrel-30-length", "window", "NO", near_mm=1200, far_mm=3500, tolerance_mm=50),
    "30 full": job("barrel-30-length", "full-range", "NC"),
    "12 point": job("barrel-12-count", "single-point", "NC", at_mm=180, tolerance_mm=5),
    "12 window": job("barrel-12-count", "window", "NO", near_mm=100, far_mm=200, tolerance_mm=5),
    "block window": job("block-rail", "window", "NO", near_mm=400, far_mm=1200, tolerance_mm=25),
}
"""One setting for each way of teaching and each output type."""


def rig_like(rig: RigProfile = STAGE, **change: Any) -> RigProfile:
    """A rig with other parts: keys of the profile, or of its first nest."""
    data: dict[str, Any] = rig.model_dump(mode="json")
    for key, value in change.items():
        (data if key in data else data["nest"][0])[key] = value
    return RigProfile.model_validate_json(json.dumps(data))


def on(made: Job, rig: RigProfile) -> Job:
    """The same order on another rig."""
    return Job(made.order, made.sensor_type, rig)


@dataclass
class Shift:
    """What became of an order, and what really happened on the bench."""

    job: Job
    plan: Plan
    events: list[Stamped] = field(default_factory=list)
    result: OrderResult | None = None
    record: Record = field(default_factory=Record)
    outputs_on: list[str] = field(default_factory=list)
    relays_closed: list[str] = field(default_factory=list)
    condition: Condition = Condition.ARMED

    @property
    def order(self) -> OrderResult:
        assert self.result is not None
        return self.result

    @property
    def findings(self) -> list[Finding]:
        """The last verdict on each unit, with its reason."""
        judged = {one.serial: one.event for one in self.events if isinstance(one.event, UnitJudged)}
        assert {serial: one.verdict for serial, one in judged.items()} == self.order.verdicts
        return [Finding(one.verdict, Reason(one.reason), one.words) for one in judged.values()]

    @property
    def finding(self) -> Finding:
        (finding,) = self.findings
        return finding

    @property
    def contacts(self) -> list[ContactSeen]:
        """The contacts that units saw."""
        return list(self.record.contacts)

    def noted(self, kind: type[_E]) -> list[_E]:
        return [one.event for one in self.events if isinstance(one.event, kind)]

    def assert_safe(self, *, broken_relay: str = "") -> None:
        """Nothing happened that may never happen, and everything is off, but for a relay that does not obey.

        A welded contact is the one thing that a selector cannot wait for when all must drop at once.
        """
        welded = broken_relay == "A.teach_contact"
        allowed = (SelectorMovedUnderLoad,) if welded else ()
        assert [one for one in self.record.incidents if not isinstance(one, allowed)] == []
        longest_s = self.job.sensor_type.contact.longest_s
        assert welded or [one for one in self.record.contacts if one.length_s > longest_s] == []
        assert [name for name in self.relays_closed if name != broken_relay] == []
        assert self.outputs_on == []
        assert self.condition is not Condition.ARMED


Look = Callable[[Stamped, SimulatedBench, Bench], None]
Opened = Callable[[SimulatedBench, Bench], None]


def work_through(
    made: Job,
    faults: Sequence[UnitFault] = (),
    bench: Sequence[BenchFault] = (),
    *,
    furnished: BenchFile | None = None,
    units: int = 1,
    look: Look | None = None,
    opened: Opened | None = None,
    journal: Callable[[], Journal] | None = None,
    time_passes: bool = False,
    shift: Shift | None = None,
    desk: Desk | None = None,
    **more: Any,
) -> Shift:
    """Do an order of `units` units, each with `faults`, on a bench with faults.

    `look` sees every event, `opened` the bench before it is used. The record goes where `journal` says, else
    into a file of its own that is thrown away; `time_passes` while it is waited for. What happened is written
    into `shift`, for whoever expects the run to end in an error.
    """
    if furnished is None:
        row = UnitRow(faults=tuple(faults), count=units)
        furnished = BenchFile(title="test", unit=(row,), fault=tuple(bench), **more)
    furnished = furnished.as_ordered(made.order.sensor_type, made.setting.output_type)
    shift = shift or Shift(made, made.plan)
    with (
        tempfile.TemporaryDirectory(dir=_QUICK_DISK) as folder,
        asyncio.Runner(loop_factory=JumpingLoop) as runner,
    ):
        record = Journal(Path(folder) / "journal.sqlite3", "test") if journal is None else journal()
        runner.run(
            _work_through(
                shift, furnished, desk or Listed(serials_of(units)), look, opened, record, time_passes
            )
        )
    return shift


def serials_of(units: int) -> list[str]:
    return [f"QOC-{number}" for number in range(1, units + 1)]


async def _work_through(
    shift: Shift,
    furnished: BenchFile,
    desk: Desk,
    look: Look | None,
    opened: Opened | None,
    journal: Journal,
    time_passes: bool,
) -> None:
    loop, rig = asyncio.get_running_loop(), shift.job.rig
    assert isinstance(loop, JumpingLoop)
    simulated = simulate(rig, furnished, loop)
    shift.record = simulated.world.record
    try:
        async with await open_bench(rig, simulated.pin_factory, simulated.wires) as bench:
            simulated.person.attach(bench.operator)
            base = TimeBase(SIMULATED_START) if time_passes else TimeBase(SIMULATED_START, loop.outside)
            chronicle = Chronicle(loop, journal, base)
            chronicle.watch(shift.events.append)
            if opened is not None:
                opened(simulated, bench)
            if look is not None:
                chronicle.watch(lambda stamped: look(stamped, simulated, bench))
            job = job_of(shift.job.order, shift.job.sensor_type, rig, shift.plan)
            run = OrderRun(bench, chronicle, job, desk, "test")
            try:
                shift.result = await run.run()
                assert_recount_agrees(shift.events, shift.plan)
            finally:
                await _see_what_is_left(shift, simulated, bench)
    finally:
        journal.close()


async def _see_what_is_left(shift: Shift, simulated: SimulatedBench, bench: Bench) -> None:
    shift.condition = bench.interlock.condition
    shift.outputs_on = [
        line
        for line, active in output_lines(shift.job.rig).items()
        if simulated.pin_factory.pin(line).state == active
    ]
    await asyncio.sleep(RELAYS_FALL_S)
    nests = simulated.world.nests.values()
    shift.relays_closed = [relay.name for nest in nests for relay in nest.relays.values() if relay.closed]
