"""An order on a bench: unit after unit, until all are done, the person is silent or the interlock trips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from hal.bench import Bench
from hal.errors import BenchError, NoAnswer, TripCause, TripKind, Tripped
from hal.operator import Request, RequestKind
from hal.target.target import PATIENCE_S
from rig.chronicle import Chronicle
from rig.events import (
    Asked,
    BenchTripped,
    OrderEnded,
    OrderInputs,
    OrderStarted,
    Purpose,
    UnitRemoved,
    UnitStarted,
    Verdict,
)
from rig.planning.plan import Plan
from rig.sequencer.findings import Finding, Reason, undecided
from rig.sequencer.unit_run import Stage, judge, run_unit
from rig.sequencer.work import Work


class Batch(Protocol):
    """Units under one number: an order, or whatever else has serials."""

    @property
    def number(self) -> str:
        """Under which number they are recorded."""

    @property
    def customer(self) -> str:
        """Whom they are for."""

    @property
    def quantity(self) -> int:
        """How many there are."""

    def unit_serials(self) -> tuple[str, ...]:
        """The serial of every unit, in the order in which they are worked on."""


@dataclass(frozen=True, slots=True)
class Job:
    """What to do with each unit of a batch, by which plan.

    Attributes:
        stages: the parts of the work on one unit, in order; the last one comes to a verdict.
        inputs: all that the plan was made from, for the record.

    """

    order: Batch
    plan: Plan
    purpose: Purpose
    stages: tuple[Stage, ...]
    inputs: OrderInputs


@dataclass(frozen=True, slots=True)
class UnitResult:
    """What became of one unit."""

    serial: str
    finding: Finding


@dataclass(frozen=True, slots=True)
class OrderResult:
    """What became of an order; `trip` or `ended_by` says why it ended before its last unit."""

    order: str
    units: tuple[UnitResult, ...]
    left: int
    trip: TripCause | None = None
    ended_by: str = ""

    def count(self, verdict: Verdict) -> int:
        """How many units got a verdict."""
        return sum(unit.finding.verdict is verdict for unit in self.units)


class OrderRun:
    """Works through the serials of one order.

    Args:
        bench: an open bench; its first nest is used.
        chronicle: where the events go.
        job: what to do.
        serials: the units still to be done, in order.
        software: version for the record.

    """

    def __init__(
        self,
        bench: Bench,
        chronicle: Chronicle,
        job: Job,
        serials: Sequence[str],
        software: str,
    ) -> None:
        self._bench = bench
        self._chronicle = chronicle
        self._job = job
        self._order = job.order
        self._plan = job.plan
        self._serials = serials
        self._software = software
        self._results: list[UnitResult] = []
        self._in_work: str | None = None
        bench.operator.on_request.append(self._note_request)

    async def run(self) -> OrderResult:
        """Do every unit; the relays are at rest on return, whatever happened.

        Raises:
            JournalError: when the record cannot be kept.

        """
        self._chronicle.order, self._chronicle.serial = self._order.number, ""
        self._chronicle.note(self._started())
        self._chronicle.note(self._job.inputs)
        ended_by, trip = "", None
        try:
            for index, serial in enumerate(self._serials):
                self._chronicle.serial = serial
                await self._one_unit(index, serial)
        except Tripped as tripped:
            trip, ended_by = tripped.cause, str(tripped)
            await self._interrupted(tripped.cause)
        except NoAnswer as silence:
            ended_by = str(silence)
        except BenchError as failure:
            trip, ended_by = self._trip_by(failure), str(failure)
            await self._interrupted(trip)
        return await self._finish(trip, ended_by)

    async def _one_unit(self, index: int, serial: str) -> None:
        nest = self._bench.nests[0]
        await self._ask(RequestKind.FIT_UNIT, f"Put unit {serial} into nest {nest.name}.", serial)
        self._in_work = serial
        self._chronicle.note(UnitStarted(nest.name, index))
        finding = await run_unit(Work(self._bench, nest, self._plan, self._chronicle), self._job.stages)
        self._in_work = None
        self._results.append(UnitResult(serial, finding))
        aside = "" if finding.verdict is Verdict.GOOD else f" and put it aside: {finding.verdict}"
        text = f"Take unit {serial} out of nest {nest.name}{aside}."
        await self._ask(RequestKind.REMOVE_UNIT, text, serial)
        self._chronicle.note(UnitRemoved())

    async def _ask(self, kind: RequestKind, text: str, serial: str) -> None:
        # A trip ends only the request that is open; one that came between two would go unnoticed.
        if self._bench.interlock.causes:
            raise Tripped(self._bench.interlock.causes[0])
        await self._bench.operator.ask(Request(kind, text, serial=serial), timeout_s=PATIENCE_S)

    async def _interrupted(self, cause: TripCause) -> None:
        self._chronicle.note(BenchTripped(str(cause.kind), str(cause), cause.check))
        if self._in_work is not None:
            reason = Reason.INTERRUPTED if cause.kind is TripKind.ASKED else Reason.BENCH_TRIPPED
            finding = undecided(reason, f"interrupted: {cause}; set it again from the start")
            self._results.append(UnitResult(self._in_work, finding))
            await judge(self._chronicle, finding)

    async def _finish(self, trip: TripCause | None, ended_by: str) -> OrderResult:
        left = len(self._serials) - len(self._results)
        result = OrderResult(self._order.number, tuple(self._results), left, trip, ended_by)
        self._chronicle.serial = ""
        counts = {str(verdict): result.count(verdict) for verdict in Verdict}
        self._chronicle.note(OrderEnded(self._order.number, **counts, left=left))
        await self._chronicle.durable()
        return result

    def _started(self) -> OrderStarted:
        profile = self._bench.profile
        return OrderStarted(
            order=self._order.number,
            customer=self._order.customer,
            purpose=self._job.purpose,
            sensor_type=self._plan.sensor_type,
            quantity=self._order.quantity,
            rig=profile.name,
            simulated=profile.back_end == "simulated",
            software=self._software,
        )

    def _trip_by(self, failure: BenchError) -> TripCause:
        self._bench.interlock.trip(TripCause(TripKind.INSTRUMENT_LOST, str(failure), failure.check))
        return self._bench.interlock.causes[0]

    def _note_request(self, request: Request) -> None:
        self._chronicle.note(Asked(str(request.kind), request.text, request.position_mm))
