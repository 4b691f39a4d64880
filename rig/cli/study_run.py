"""`teachrig study gauge run`: the trials that are left, led through one by one."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hal.bench import Bench
from hal.simulated.already_set import already_set
from hal.simulated.benchfile import BenchFile
from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import (
    as_calibrated_or_give_up,
    data_folder,
    in_measured_air,
    open_library,
    plan_or_give_up,
    read_bench,
    read_profile,
    signed_in_by,
)
from rig.cli.progress import Watch
from rig.cli.study_show import chosen, tell
from rig.engine import Engine
from rig.events import OrderInputs, StudyOpened
from rig.gauge.course import Course, Study
from rig.gauge.desk import StudyDesk, Wanted
from rig.gauge.figures import figures_of
from rig.gauge.history import conclude_study, study_named
from rig.gauge.scale import scale_of
from rig.gauge.session import StudySession, furnished, seat, study_job
from rig.gauge.told import conclusion_event
from rig.gauge.verdict import conclude
from rig.planning.plan import Plan
from rig.recount.attempt import NotRebuilt, rebuilt
from rig.sequencer.order_run import OrderResult
from rig.session import JOURNAL_NAME
from rig.summary import Summary
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench

KEPT = "kept-ten"
"""What the simulated bench holds where nothing else is said."""


@dataclass(frozen=True)
class Ready:
    """A study that can go on: what its units are measured by."""

    course: Course
    order: Order
    sensor_type: SensorType
    rig: RigProfile
    plan: Plan
    bench_file: BenchFile | None


def run(options: Namespace) -> int:
    """Do the trials that are left; once all are done, say what the study comes to."""
    journal = data_folder(options.data) / JOURNAL_NAME
    study = chosen(journal, options.number)
    if not study.course.left:
        narrate(f"study {study.design.study} has all its {len(study.design.trials)} values")
        return _ended(options, journal, study.design.study, None)
    ready = _ready(options, journal, study)
    left, of = len(study.course.left), len(study.design.trials)
    narrate(
        f"gauge study {study.design.study}: {left} of {of} trials are left; Ctrl-C leaves, and goes on later"
    )
    watch = _StudyWatch(options, journal, ready)
    result = watch.run()
    if result.ended_by:
        narrate(result.ended_by)
    stopped = watch.stopped_by or (Exit.BENCH_FAULT if result.trip is not None else None)
    if ready.course.left and ready.course.why and stopped is None:
        narrate(f"{ready.course.why}")
    return _ended(options, journal, study.design.study, stopped)


def _ended(options: Namespace, journal: Path, number: str, stopped: int | None) -> int:
    study = study_named(journal, number)
    assert study is not None, "it was run"
    conclude_if_whole(journal, study)
    told = study_named(journal, number)
    assert told is not None, "it was run"
    code = tell(told, as_json=options.json)
    narrate(f"record: {journal}")
    if not told.course.left:
        narrate("next: teachrig study gauge show --out FOLDER writes the paper to sign")
    return code if stopped is None else stopped


def conclude_if_whole(journal: Path, study: Study) -> None:
    """Enter what a study comes to once it has all its values, and nothing is recorded of that yet."""
    assert isinstance(study.opened.event, StudyOpened), "only studies are concluded"
    rig = rebuilt("rig profile", RigProfile, study.opened.event.inputs["rig"])
    figures = figures_of(study.course, scale_of(study.course, rig))
    if figures is not None and study.concluded is None:
        conclude_study(journal, conclusion_event(figures, conclude(figures)))


def _ready(options: Namespace, journal: Path, study: Study) -> Ready:
    assert isinstance(study.opened.event, StudyOpened), "only studies are run"
    inputs = OrderInputs(**study.opened.event.inputs)
    library = open_library()
    profile = read_profile(options.rig or inputs.rig["name"], library)
    if profile.model_dump(mode="json") != inputs.rig:
        raise GiveUp(
            Exit.BAD_INPUT,
            f"rig profile {profile.name} is not the one that study {study.design.study} was opened with; allowed: that "
            "one (--rig), or a new study: teachrig study gauge open",
        )
    try:
        order = rebuilt("order", Order, inputs.order)
        sensor_type = rebuilt("sensor type", SensorType, inputs.sensor_type)
    except NotRebuilt as gap:
        raise GiveUp(Exit.BAD_INPUT, str(gap)) from None
    if profile.back_end == "simulated":
        options.bench = options.bench or KEPT
    bench_file = read_bench(options, profile, library, order.sensor_type, order.setting.output_type)
    rig = in_measured_air(as_calibrated_or_give_up(profile, journal), bench_file)
    plan = plan_or_give_up(order, sensor_type, rig)
    return Ready(study.course, order, sensor_type, rig, plan, _furnished(bench_file, study.course, plan))


def _furnished(bench_file: BenchFile | None, course: Course, plan: Plan) -> BenchFile | None:
    if bench_file is None:
        return None
    points_mm = [at_mm * plan.scale for _, at_mm in plan.set_points]
    try:
        left = furnished(bench_file, course)
    except ValueError as few:
        raise GiveUp(Exit.BAD_INPUT, f"{few}; allowed: another --bench") from None
    narrate("SIMULATED BENCH: no hardware is touched, units and people are made up.")
    return already_set(left, plan.mode, plan.output_function, points_mm)


class _StudyWatch(Watch[OrderResult]):
    """Follows the trials, and takes in what is scanned or typed before each."""

    def __init__(self, options: Namespace, journal: Path, ready: Ready) -> None:
        scanned = ready.bench_file is None or options.real_time
        signed_in = signed_in_by(options.by)
        self._desk = desk = StudyDesk(ready.course, self._wanted if scanned else None, signed_in)
        design = ready.course.design

        def hands(simulated: SimulatedBench, bench: Bench) -> None:
            simulated.person.attach(bench.operator)
            seat(simulated, design, desk)

        session = StudySession(
            study_job(design, ready.order, ready.sensor_type, ready.rig, ready.plan, desk),
            ready.rig,
            ready.bench_file,
            options.real_time,
            journal,
            desk,
            hands,
            notice=lambda words: narrate(f"note: {words}"),
            on_code=self._scanned,
            course=ready.course,
        )
        super().__init__(session, Summary(), live=not options.json)

    def _wanted(self, wanted: Wanted) -> None:
        self._say(f"> {wanted.words}")

    def _scanned(self, text: str) -> None:
        """A code that the reader of the bench has read, or a typed line, on the engine's loop."""
        refusal = self._desk.give(text)
        if refusal:
            self._say(refusal)

    def _answer(self, engine: Engine[OrderResult], typed: str) -> None:
        if self._desk.wanted is not None:
            engine.call(lambda: self._scanned(typed))
        else:
            super()._answer(engine, typed)
