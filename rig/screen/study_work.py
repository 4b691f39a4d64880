"""A gauge study as the screen drives it: the trials in their order, each by the right person with the right unit.

It knows no terminal, as `rig.screen.work`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING

from hal.bench import Bench as OpenBench
from hal.errors import BenchError
from hal.waits import Waits
from rig.air_now import in_measured_air
from rig.calibration.using import as_calibrated
from rig.events import Stamped
from rig.gauge.course import Course, Study
from rig.gauge.desk import Asks, InHand, Wanted, signed_in_for
from rig.gauge.figures import Figures
from rig.gauge.history import study_named
from rig.gauge.session import StudySession, seat, study_job
from rig.gauge.taking_up import KEPT, Files, conclude_if_whole, figures_from, files_of, furnished, other_rig
from rig.planning.compile import make_plan
from rig.planning.refusal import PlanRefused
from rig.recount.attempt import NotRebuilt
from rig.screen.desk import ScanDesk
from rig.screen.entering import entered
from rig.screen.setup import Bench, CannotStart, Setup
from rig.screen.view.board import Board, Phase
from rig.screen.view.instruction import Instruction
from rig.screen.view.notices import CodeRead, Notice, Noticed, WorkEnded
from rig.screen.view.serials import Scan, read_scan
from rig.screen.view.steps import Steps
from rig.screen.view.study import StudyStanding, only_edge, study_instruction
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.sequencer.findings import Finding
from rig.session import Session
from wiring.saying import said_by, say

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench
    from hal.simulated.benchfile import BenchFile

_LONGEST = 40
_SOUND = "sound"
"""What a simulated bench holds where nothing else is said: units all alike, of which a study tells nothing."""


class StudyScanDesk(ScanDesk):
    """Waits for the unit of the next trial, and for no other."""

    def __init__(self, course: Course, in_hand: InHand, tell: Callable[[Notice], object], first: str | None):
        super().__init__(course.design.units, tell, first=first)
        self._course = course
        self._trial_in_hand = in_hand

    async def next_serial(self, waits: Waits, /) -> str | None:
        """The unit of the next trial; None once all are done or the person leaves."""
        if self.leaving or not self._course.left:
            return None
        trial = self._course.left[0]
        self._in_hand, self._open = None, {trial.unit: None}
        if await super().next_serial(waits) is None:
            return None
        self.signed_in = signed_in_for(self._course.design, trial, self.signed_in)
        self._trial_in_hand.take(trial)
        return trial.unit

    async def put_aside(self, _serial: str, _finding: Finding, _waits: Waits, /) -> None:
        """Nothing: a unit that could not be measured is tried again."""


@dataclass(frozen=True, slots=True)
class StudySetup:
    """A study on one bench, read and planned; `setup.job` measures the trial that is `in_hand`."""

    setup: Setup
    study: Study
    in_hand: InHand


class StudyWork(OrderWork):
    """One study, from its record so far to its last trial.

    Attributes:
        course: how far it has come.
        level: the person who goes on, or the setting of the rig, as it was last said.
        figures: what it comes to; None while a trial is left.

    """

    is_study = True

    def __init__(self, ready: StudySetup, words: Words) -> None:
        super().__init__(ready.setup, words)
        self.course = ready.study.course
        self.level = ""
        self.figures: Figures | None = figures_from(ready.study)
        self._in_hand = ready.in_hand
        job = ready.setup.job
        shown = only_edge(job.plan, self.course.design.edge)
        self.board = Board(job, words, StudyStanding(self.course), Steps(shown, words))
        if not self.course.left:
            self.board.phase = Phase.ENDED

    @property
    def wanted(self) -> Wanted | None:
        """What has to be scanned or typed before the next trial; None once all are done."""
        left, design = self.course.left, self.course.design
        if not left:
            return None
        asks = Asks.UNIT if left[0].level == self.level else Asks.LEVEL
        return Wanted(asks, left[0], len(design.trials), design.factor)

    def instruction(self) -> Instruction:
        """The single next thing to do."""
        return study_instruction(self.board, self.wanted, self.figures) or super().instruction()

    def enter(self, text: str) -> Scan | None:
        """Take in a line that was scanned or typed; no person and no unit but the ones that are wanted."""
        phase, wanted = self.board.phase, self.wanted
        if phase is Phase.ENDED:
            return Scan(None, "study.over")
        if not phase.takes_serial or wanted is None:
            blank = not read_scan(text).text
            return entered(self, text) if blank or phase is not Phase.TAKE_OUT else _not_now(text)
        read = read_scan(text)
        if read.why:
            return Scan(None, "scan.unreadable", {"why": read.why})
        return self._given(read.text, wanted) if read.text else None

    def _given(self, given: str, wanted: Wanted) -> Scan:
        if given.casefold() != wanted.name.casefold():
            what = "unit" if wanted.asks is Asks.UNIT else str(wanted.factor)
            return Scan(None, f"study.not-{what}", {"text": given[:_LONGEST], "name": wanted.name})
        if wanted.asks is Asks.LEVEL:
            self.level = wanted.trial.level
            return Scan(self.level, "study.goes-on", {"name": self.level})
        self.hand_over(wanted.trial.unit)
        if self.board.barred is not None:
            return Scan(None, "scan.barred", {"serial": wanted.trial.unit})
        return Scan(wanted.trial.unit, "scan.accepted", {"serial": wanted.trial.unit})

    def make_desk(self, _serials: tuple[str, ...], first: str | None) -> ScanDesk:
        """Waits for the unit of the next trial."""
        self._at_the_bench = self.course.twin()
        desk = StudyScanDesk(self._at_the_bench, self._in_hand, self._inbox.put, first)
        desk.signed_in = self._signed_in
        return desk

    def make_session(self, desk: ScanDesk) -> Session:
        """Does the trials that are left."""
        setup = self.setup
        return StudySession(
            setup.job,
            setup.profile,
            setup.bench_file,
            setup.real_time,
            setup.journal,
            desk,
            None if self.hands is None else self._join,
            setup.speed,
            notice=lambda words: self._inbox.put(Noticed(words)),
            on_code=lambda text: self._inbox.put(CodeRead(text)),
            course=self._at_the_bench,
        )

    def _join(self, simulated: SimulatedBench, bench: OpenBench) -> None:
        assert self.hands is not None, "only they come to a simulated bench"
        self.hands.join(simulated, bench)
        seat(simulated, self.course.design, self._in_hand)

    def _take(self, one: Stamped | Notice) -> None:
        if isinstance(one, Stamped):
            self.course.take(one)
        super()._take(one)
        # Whoever measures by hand should not know what the others measured.
        self.board.edges = ()
        if isinstance(one, WorkEnded) and not self.course.left and self.setup.journal is not None:
            self.figures = figures_from(conclude_if_whole(self.setup.journal, self.course.design.study))


def _not_now(text: str) -> Scan:
    return Scan(None, "scan.not-now", {"text": text.strip()[:_LONGEST]})


def study_setup(bench: Bench, number: str | None) -> StudySetup:
    """A study of the record, or the last one opened, on a bench; raises CannotStart and JournalError."""
    study = study_named(bench.journal, number)
    if study is None:
        raise CannotStart(
            say("the record knows no such gauge study; allowed: teachrig study gauge open ORDER first")
        )
    try:
        files = files_of(study)
    except NotRebuilt as gap:
        raise CannotStart(str(gap)) from None
    if other := other_rig(study, files, bench.profile):
        raise CannotStart(other)
    usual = replace(bench, holds=KEPT) if bench.holds == _SOUND else bench
    return _planned(usual, study, files)


def _planned(bench: Bench, study: Study, files: Files) -> StudySetup:
    order, sensor_type, design = files.order, files.sensor_type, study.design
    bench_file = bench.furnished(order.sensor_type, order.setting.output_type)
    try:
        rig = as_calibrated(bench.profile, bench.journal, datetime.now().astimezone().date())
        if rig.air.probe is not None:
            rig = in_measured_air(rig, bench_file)
        plan = make_plan(order, sensor_type, rig)
        furnishes: BenchFile | None = bench_file and furnished(bench_file, study.course, plan)
    except (BenchError, PlanRefused, ValueError) as why:
        raise CannotStart(say("study {study}: {why}", study=design.study, why=said_by(why))) from None
    in_hand = InHand()
    setup = Setup(
        study_job(design, order, sensor_type, rig, plan, in_hand),
        order,
        sensor_type,
        rig,
        furnishes,
        bench.journal,
        bench.real_time,
        bench.speed,
        quickest_s=bench.quickest_s,
    )
    return StudySetup(setup, study, in_hand)
