"""Does one unit as in production, on a simulated bench of its own, and holds the verdict against the truth."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from hal.bench import open_bench
from hal.errors import BenchError
from hal.simulated import simulate
from hal.simulated.bench import SimulatedBench
from hal.simulated.clock import JumpingLoop
from hal.simulated.faults import BenchFaultKind, RelayName, UnitFaultKind
from hal.simulated.record import SelectorMovedUnderLoad
from hal.simulated.unit import Unit
from rig.chronicle import Chronicle, TimeBase, Watcher
from rig.events import CheckDone, EdgeRead, Stamped, UnitJudged, Verdict
from rig.risk.beyond import Beyond, excuses_of
from rig.risk.case import Case
from rig.risk.draw import Drawn, draw_unit
from rig.risk.truth import OF_THE_SETTING, Defect, defects_of, overshoot_mm
from rig.sequencer.desk import Listed
from rig.sequencer.order_run import OrderRun
from rig.session import SIMULATED_START


class Result(StrEnum):
    """A verdict beside the truth."""

    ESCAPE = "bad unit called good"
    UNSEEN = "bad unit called good, nothing could show it"
    FALSE_REJECTION = "sound unit called bad"
    DOUBT = "sound unit undecided"
    RIGHT = "right"
    OPEN = "bad unit undecided"
    NOT_JUDGED = "no verdict"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one unit.

    Attributes:
        seed: draws the same unit on the same bench again.
        fault: what was wrong with unit or bench by design.
        details: its figures in words.
        sound: whether nothing is wrong with the unit that it came with or made of its teaching itself.
        defects: what it really suffers from as it leaves the bench.
        beyond: why its way of being proved could not tell any of that; empty where it could, and of sound units.
        beyond_mm: how far its worst operate point lies outside tolerance, negative inside; None without a set point.
        before: the same when its first check position was read; a unit may change its mind between the two.
        unsafe: what happened on the bench that may never happen.

    """

    seed: int
    fault: str
    details: str
    sound: bool
    defects: tuple[Defect, ...]
    before: tuple[Defect, ...]
    beyond: tuple[Beyond, ...]
    beyond_mm: float | None
    verdict: Verdict | None
    reason: str
    words: str
    unsafe: tuple[str, ...]

    @property
    def result(self) -> Result:
        """What the verdict is worth."""
        if self.verdict is None:
            return Result.NOT_JUDGED
        if self.verdict is Verdict.GOOD and self.defects:
            return Result.UNSEEN if self.beyond else Result.ESCAPE
        if self.sound:
            wrong = {Verdict.BAD: Result.FALSE_REJECTION, Verdict.UNDECIDED: Result.DOUBT}
            return wrong.get(self.verdict, Result.RIGHT)
        return Result.OPEN if self.verdict is Verdict.UNDECIDED else Result.RIGHT


def try_unit(case: Case, seed: int, watch: Watcher | None = None) -> Outcome:
    """Draw a unit and its bench and let it be done; `watch` gets every event."""
    drawn = draw_unit(case, seed)
    with asyncio.Runner(loop_factory=JumpingLoop) as runner:
        return runner.run(_Trial(case, drawn, seed, watch).run())


class _Trial:
    def __init__(self, case: Case, drawn: Drawn, seed: int, watch: Watcher | None) -> None:
        self._case, self._drawn, self._seed, self._watch = case, drawn, seed, watch
        self._before: tuple[Defect, ...] | None = None
        self._at_last_reading: tuple[Defect, ...] = ()
        self._after: tuple[Defect, ...] = ()
        self._beyond_mm: float | None = None
        self._unit: Callable[[], Unit | None] = lambda: None
        self._judged: UnitJudged | None = None

    async def run(self) -> Outcome:
        """Do the unit."""
        rig = self._case.rig
        simulated = simulate(rig, self._drawn.bench_file, asyncio.get_running_loop())
        nest = simulated.world.nests[rig.nest[0].name]
        self._unit = lambda: nest.unit
        try:
            ended_by = await self._done(simulated)
        except BenchError as failure:  # the bench would not even open
            ended_by = str(failure)
        judged = self._judged
        return self._outcome(
            simulated,
            verdict=judged.verdict if judged else None,
            reason=judged.reason if judged else "",
            words=judged.words if judged else ended_by,
        )

    async def _done(self, simulated: SimulatedBench) -> str:
        """Let the unit be judged; what ended the order early, if anything did."""
        rig, loop = self._case.rig, asyncio.get_running_loop()
        async with await open_bench(rig, simulated.pin_factory, simulated.wires) as bench:
            simulated.person.attach(bench.operator)
            chronicle = Chronicle(loop, None, TimeBase(SIMULATED_START))
            chronicle.watch(self._look)
            if self._watch is not None:
                chronicle.watch(self._watch)
            job = self._case.job
            desk = Listed(job.order.unit_serials())
            result = await OrderRun(bench, chronicle, job, desk, "simulated").run()
        return result.ended_by

    def _look(self, stamped: Stamped) -> None:
        if isinstance(stamped.event, UnitJudged):
            self._judged = stamped.event
        reading = isinstance(stamped.event, CheckDone | EdgeRead)
        # Only what drifts may change its mind: nothing else has to be looked at after every reading.
        wanted = reading and (self._before is None or self._drifts)
        unit = self._unit() if wanted or isinstance(stamped.event, UnitJudged) else None
        if unit is None:
            return
        self._after = tuple(defects_of(unit, self._case))
        if self._case.setting.set_points_mm:
            self._beyond_mm = round(overshoot_mm(unit, self._case), 3)
        if reading:
            self._before = self._after if self._before is None else self._before
            self._at_last_reading = self._after

    def _outcome(
        self, simulated: SimulatedBench, *, verdict: Verdict | None, reason: str, words: str
    ) -> Outcome:
        # A bench fault may leave a sound unit set wrongly, or not at all; it is sound for all that.
        own = self._after
        if self._drawn.bench_fault is not None and self._drawn.unit_fault is None:
            own = tuple(defect for defect in own if defect not in OF_THE_SETTING)
        return Outcome(
            seed=self._seed,
            fault=self._drawn.fault,
            details=_details(self._drawn),
            sound=not own,
            defects=self._after,
            before=self._after if self._before is None else self._before,
            beyond=self._excuses(),
            beyond_mm=self._beyond_mm,
            verdict=verdict,
            reason=reason,
            words=words,
            unsafe=tuple(_unsafe(simulated, self._drawn)),
        )

    @property
    def _drifts(self) -> bool:
        fault = self._drawn.unit_fault
        return fault is not None and fault.kind is UnitFaultKind.DRIFTED

    def _excuses(self) -> tuple[Beyond, ...]:
        fault = self._drawn.bench_fault
        slipped = fault is not None and fault.kind is BenchFaultKind.TARGET_MISPLACED
        return excuses_of(
            self._case.plan,
            self._after,
            changed_late=self._drifts and not self._at_last_reading,
            # What has slipped before the unit was taught is off by as much while it is checked.
            slipped_early=slipped and self._before == self._after,
        )


def _unsafe(simulated: SimulatedBench, drawn: Drawn) -> list[str]:
    # A selector cannot wait for a welded contact when all must drop at once; and nothing tells that it is slow itself
    # until the contact is closed.
    fault = drawn.bench_fault
    welded = fault is not None and (
        fault.kind is BenchFaultKind.TEACH_CONTACT_WELDED or fault.relay is RelayName.RAIL_SELECTOR
    )
    incidents = simulated.world.record.incidents
    return [str(one) for one in incidents if not (welded and isinstance(one, SelectorMovedUnderLoad))]


def _details(drawn: Drawn) -> str:
    faults = (fault for fault in (drawn.unit_fault, drawn.bench_fault) if fault is not None)
    return "; ".join(_said(fault.model_dump(exclude_none=True, mode="json")) for fault in faults)


def _said(fault: dict[str, object]) -> str:
    figures = (
        f"{key} {value:.4g}" if isinstance(value, float) else f"{key} {value}" for key, value in fault.items()
    )
    return ", ".join(figures).removeprefix("kind ")
