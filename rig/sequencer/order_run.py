"""An order on a bench: unit after unit, until all are done, the person is silent or the interlock trips."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Protocol

from hal.bench import Bench
from hal.errors import BenchError, InstrumentError, NoAnswer, TripCause, TripKind, Tripped
from hal.operator import Request, RequestKind
from rig.chronicle import Chronicle
from rig.events import (
    Asked,
    BenchReset,
    BenchTripped,
    OrderEnded,
    OrderInputs,
    OrderStarted,
    PersonSignedIn,
    Purpose,
    UnitRemoved,
    UnitStarted,
    Verdict,
)
from rig.planning.plan import Plan
from rig.sequencer.desk import Desk
from rig.sequencer.findings import Finding, Reason, undecided
from rig.sequencer.unit_run import Stage, judge, run_unit
from rig.sequencer.work import Work
from wiring.saying import said_by, say


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
class OrderResult:
    """What became of an order; `trip` or `ended_by` says why it ended before its last unit.

    Of a unit only its last verdict is kept, so that an order of any length takes next to no memory: why it got that
    stands in the record.
    """

    order: str
    verdicts: Mapping[str, Verdict]
    left: int
    trip: TripCause | None = None
    ended_by: str = ""

    def count(self, verdict: Verdict) -> int:
        """How many units got a verdict."""
        return sum(one is verdict for one in self.verdicts.values())


@dataclass(frozen=True, slots=True)
class _Ended:
    """The work on an order is over; without words, because it is done."""

    words: str = ""
    trip: TripCause | None = None


class OrderRun:
    """Works through the units that the desk hands over.

    Args:
        bench: an open bench; its first nest is used.
        chronicle: where the events go.
        job: what to do.
        desk: where the units come from, and who resets the bench.
        software: version for the record.

    """

    def __init__(
        self,
        bench: Bench,
        chronicle: Chronicle,
        job: Job,
        desk: Desk,
        software: str,
    ) -> None:
        self._bench = bench
        self._chronicle = chronicle
        self._job = job
        self._order = job.order
        self._plan = job.plan
        self._desk = desk
        self._software = software
        self._verdicts: dict[str, Verdict] = {}
        self._signed_in: PersonSignedIn | None = None
        self._begun = 0
        self._in_work: str | None = None
        self._judged: tuple[str, Finding] | None = None
        bench.operator.on_request.append(self._note_request)

    async def run(self) -> OrderResult:
        """Do every unit; the relays are at rest on return, whatever happened.

        Raises:
            JournalError: when the record cannot be kept.

        """
        self._chronicle.order, self._chronicle.serial = self._order.number, ""
        self._chronicle.note(self._started())
        self._chronicle.note(self._job.inputs)
        ended: _Ended | None = None
        while ended is None:
            ended = await self._work_on()
        return await self._finish(ended)

    async def _work_on(self) -> _Ended | None:
        """Unit after unit; None when the bench has tripped and the person wants to go on."""
        try:
            await self._empty_nest()
            while (serial := await self._desk.next_serial(self._bench.waits)) is not None:
                self._sign_in()
                self._chronicle.serial = serial
                await self._one_unit(serial)
        except Tripped as tripped:
            return await self._after_trip(tripped.cause, str(tripped))
        except NoAnswer as silence:
            return _Ended(said_by(silence))
        except BenchError as failure:
            return await self._after_trip(self._trip_by(failure), said_by(failure))
        return _Ended()

    def _sign_in(self) -> None:
        """Note who works on the units from here on, if that has changed."""
        signed_in = self._desk.signed_in
        if signed_in is not None and signed_in != self._signed_in:
            self._chronicle.serial = ""
            self._chronicle.note(signed_in)
            self._signed_in = signed_in

    async def _one_unit(self, serial: str) -> None:
        nest = self._bench.nests[0]
        await self._chronicle.ready_for_unit()
        await self._ask(
            RequestKind.FIT_UNIT,
            say("Put unit {serial} into nest {name}.", serial=serial, name=nest.name),
            serial,
        )
        self._in_work = serial
        self._chronicle.note(UnitStarted(nest.name, self._begun))
        self._begun += 1
        finding = await run_unit(Work(self._bench, nest, self._plan, self._chronicle), self._job.stages)
        self._in_work = None
        self._verdicts[serial], self._judged = finding.verdict, (serial, finding)
        await self._empty_nest()

    async def _empty_nest(self) -> None:
        """See a judged unit out of the nest, and to where it belongs; again if a trip came between."""
        if self._judged is None:
            return
        serial, finding = self._judged
        self._chronicle.serial = serial
        is_good = finding.verdict is Verdict.GOOD
        aside = "" if is_good else say(" and put it aside: {verdict}", verdict=finding.verdict)
        text = say(
            "Take unit {serial} out of nest {name}{aside}.",
            serial=serial,
            name=self._bench.nests[0].name,
            aside=aside,
        )
        await self._ask(RequestKind.REMOVE_UNIT, text, serial)
        if not is_good:
            await self._desk.put_aside(serial, finding, self._bench.waits)
        self._chronicle.note(UnitRemoved())
        self._chronicle.serial, self._judged = "", None

    async def _ask(self, kind: RequestKind, text: str, serial: str) -> None:
        # A trip ends only the request that is open; one that came between two would go unnoticed.
        if self._bench.interlock.causes:
            raise Tripped(self._bench.interlock.causes[0])
        await self._bench.operator.ask(Request(kind, text, serial=serial), timeout_s=self._desk.patience_s)

    async def _after_trip(self, cause: TripCause, words: str) -> _Ended | None:
        in_work = self._in_work
        await self._interrupted(cause)
        while await self._desk.wants_reset(cause, in_work):
            try:
                self._bench.interlock.reset()
            except Tripped as still:
                cause = still.cause
            else:
                self._chronicle.note(BenchReset())
                return None
        return _Ended(words, cause)

    async def _interrupted(self, cause: TripCause) -> None:
        tripped = BenchTripped(str(cause.kind), str(cause), cause.check)
        self._chronicle.note(tripped)
        serial, self._in_work = self._in_work, None
        if serial is not None:
            finding = cut_short(tripped)
            self._verdicts[serial] = finding.verdict
            await judge(self._chronicle, finding)

    async def _finish(self, ended: _Ended) -> OrderResult:
        left = sum(serial not in self._verdicts for serial in self._desk.serials)
        result = OrderResult(self._order.number, self._verdicts, left, ended.trip, ended.words)
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
        kind = failure.kind if isinstance(failure, InstrumentError) else TripKind.INSTRUMENT_LOST
        self._bench.interlock.trip(TripCause(kind, said_by(failure), failure.check))
        return self._bench.interlock.causes[0]

    def _note_request(self, request: Request) -> None:
        self._chronicle.note(Asked(str(request.kind), request.text, request.position_mm))


_REASONS: Mapping[str, Reason] = {
    TripKind.ASKED: Reason.INTERRUPTED,
    TripKind.DRIVE_STALLED: Reason.DRIVE_STALLED,
    TripKind.DRIVE_LOST_STEPS: Reason.DRIVE_LOST_STEPS,
    TripKind.DRIVE_LATE: Reason.DRIVE_LATE,
}


def cut_short(tripped: BenchTripped) -> Finding:
    """What is said of the unit that was in work when the interlock opened."""
    reason = _REASONS.get(tripped.cause, Reason.BENCH_TRIPPED)
    return undecided(reason, say("interrupted: {words}; set it again from the start", words=tripped.words))
