"""The board: all that the working screen has to know, folded from events and notices."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from hal.errors import BenchError, TripCause
from hal.operator import RequestKind
from rig.events import (
    Asked,
    BenchReset,
    BenchTripped,
    EdgeMeasured,
    Event,
    Stamped,
    SupplyMeasured,
    TargetMoved,
    UnitJudged,
    UnitRemoved,
    UnitStarted,
    Verdict,
)
from rig.screen.view.notices import AsideWanted, Barred, Notice, ResetWanted, SerialWanted, WorkEnded
from rig.screen.view.standing import Standing
from rig.screen.view.steps import Steps
from rig.screen.view.wording import Words
from rig.sequencer.order_run import Job


class Phase(StrEnum):
    """What is going on, seen from the person."""

    READY = "ready"  # the bench is not opened yet
    OPENING = "opening"
    SCAN = "scan"
    FIT = "fit"
    ASKED = "asked"
    WORK = "work"
    TAKE_OUT = "take-out"
    ASIDE = "aside"
    TRIPPED = "tripped"
    ENDED = "ended"
    FAILED = "failed"

    @property
    def unit_in_work(self) -> bool:
        """Whether a unit is between its start and its verdict."""
        return self in (Phase.WORK, Phase.ASKED)

    @property
    def takes_serial(self) -> bool:
        """Whether the next unit may be scanned."""
        return self in (Phase.READY, Phase.SCAN)


@dataclass(slots=True)
class Board:
    """Feed it every event and notice in order.

    Attributes:
        serial: the unit in hand.
        request: what the person is asked for, in the engine's words, with its position.
        target_mm: where the target was asked to be last; None for a clear beam.
        target_out: whether it is out of the beam, so that it has to come in from the side.
        judged: the verdict shown last.
        cause: why the bench has tripped, `still` if that stood in the way of a reset.
        failure: what ended the work, if something did.
        barred: why no unit may be taught; None if one may.

    """

    job: Job
    words: Words
    standing: Standing
    steps: Steps
    phase: Phase = Phase.READY
    serial: str = ""
    request: Asked | None = None
    target_mm: float | None = None
    target_out: bool = True
    judged: UnitJudged | None = None
    supply: SupplyMeasured | None = None
    edges: tuple[EdgeMeasured, ...] = ()
    cause: TripCause | None = None
    interrupted: str | None = None
    still: bool = False
    failure: BaseException | None = None
    ended_by: str = ""
    barred: Barred | None = None

    @classmethod
    def of(cls, job: Job, words: Words, earlier: Iterable[Stamped] = ()) -> Board:
        """A board for an order, with what earlier runs have left."""
        standing = Standing(job.order.unit_serials()).take_all(earlier)
        board = cls(job, words, standing, Steps(job.plan, words))
        aside = standing.to_put_aside
        if aside:
            board.want_aside(aside[0])
        elif not standing.open_serials:
            board.phase = Phase.ENDED
        return board

    def want_aside(self, serial: str) -> None:
        """Ask for a unit of an earlier run to be put aside before anything else."""
        unit = self.standing.units[serial]
        assert unit.verdict is not None, "only judged units are put aside"
        self.phase, self.serial = Phase.ASIDE, serial
        self.judged = UnitJudged(unit.verdict, unit.reason, unit.words)

    def put_aside_before_start(self) -> None:
        """Take note that a unit of an earlier run is put aside; the next one follows, if there is any."""
        self.standing.units[self.serial].in_nest = False
        left = self.standing.to_put_aside
        if left:
            self.want_aside(left[0])
        else:
            self.phase, self.judged = (Phase.READY if self.standing.open_serials else Phase.ENDED), None

    def begin(self) -> None:
        """Take note that the bench is being opened."""
        self.phase, self.failure, self.cause, self.ended_by = Phase.OPENING, None, None, ""

    def take(self, stamped: Stamped) -> None:
        """Take one event in."""
        self.standing.take(stamped)
        self.steps.take(stamped)
        event = stamped.event
        if isinstance(event, Asked):
            self._ask(event, stamped.serial)
            return
        if self.phase is Phase.ASKED:
            self.phase, self.request = Phase.WORK, None
        self._take_phase(event, stamped.serial)
        self._take_figures(event)

    def _take_phase(self, event: Event, serial: str) -> None:
        match event:
            case UnitStarted():
                self.phase, self.serial, self.judged = Phase.WORK, serial, None
                self.edges, self.supply, self.request, self.target_out = (), None, None, True
            case UnitJudged():
                self.judged = event
            case UnitRemoved():
                self.request, self.target_mm = None, None
            case BenchTripped():
                self.phase, self.request = Phase.TRIPPED, None
            case BenchReset():
                self.cause, self.still, self.interrupted = None, False, None

    def _take_figures(self, event: Event) -> None:
        match event:
            case TargetMoved():
                self.target_mm, self.target_out = event.position_mm, event.position_mm is None
            case SupplyMeasured():
                self.supply = event
            case EdgeMeasured():
                # Measured once more, the newer figures stand.
                self.edges = (*(one for one in self.edges if one.edge != event.edge), event)

    def notice(self, notice: Notice) -> None:
        """Take in what the work tells beside its events."""
        match notice:
            case SerialWanted():
                self.phase, self.serial, self.request = Phase.SCAN, "", None
            case AsideWanted(serial=serial):
                self.phase, self.serial, self.request = Phase.ASIDE, serial, None
            case ResetWanted(cause=cause, in_work=in_work, still=still):
                self.phase, self.cause, self.still = Phase.TRIPPED, cause, still
                self.interrupted = in_work
            case WorkEnded():
                self._end(notice)

    @property
    def wants_number(self) -> bool:
        """Whether the person is asked for a number."""
        return self.request is not None and RequestKind(self.request.request).wants_number

    @property
    def in_nest_not_good(self) -> bool:
        """Whether the unit last judged is not good."""
        return self.judged is not None and self.judged.verdict is not Verdict.GOOD

    def _ask(self, asked: Asked, serial: str) -> None:
        self.request, self.serial = asked, serial
        phases = {RequestKind.FIT_UNIT: Phase.FIT, RequestKind.REMOVE_UNIT: Phase.TAKE_OUT}
        self.phase = phases.get(RequestKind(asked.request), Phase.ASKED)
        if self.phase is Phase.ASKED and asked.position_mm is not None:
            self.target_mm = asked.position_mm

    def _end(self, end: WorkEnded) -> None:
        self.request, self.failure = None, end.failure
        trip = None if end.result is None else end.result.trip
        self.ended_by = "" if end.result is None else end.result.ended_by
        if isinstance(end.failure, BenchError):
            self.ended_by = str(end.failure)
        if end.failure is not None or trip is not None:
            self.phase, self.cause = Phase.FAILED, trip
        else:
            self.phase = Phase.READY if self.standing.open_serials else Phase.ENDED
