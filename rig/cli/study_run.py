"""`teachrig study gauge run`: the trials that are left, led through one by one."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hal.bench import Bench
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
from rig.cli.study_show import chosen, files_or_give_up, tell
from rig.engine import Engine
from rig.gauge.course import Course, Study
from rig.gauge.desk import InHand, StudyDesk, Wanted
from rig.gauge.session import StudySession, seat, study_job
from rig.gauge.taking_up import KEPT, conclude_if_whole, furnished, other_rig
from rig.planning.plan import Plan
from rig.sequencer.order_run import OrderResult
from rig.session import JOURNAL_NAME
from rig.summary import Summary
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench


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
    study = conclude_if_whole(journal, number)
    code = tell(study, as_json=options.json)
    narrate(f"record: {journal}")
    if not study.course.left:
        narrate("next: teachrig study gauge show --out FOLDER writes the paper to sign")
    return code if stopped is None else stopped


def _ready(options: Namespace, journal: Path, study: Study) -> Ready:
    files = files_or_give_up(study)
    library = open_library()
    profile = read_profile(options.rig or files.rig.name, library)
    if other := other_rig(study, files, profile):
        raise GiveUp(Exit.BAD_INPUT, other)
    order, sensor_type = files.order, files.sensor_type
    if profile.back_end == "simulated":
        options.bench = options.bench or KEPT
    bench_file = read_bench(options, profile, library, order.sensor_type, order.setting.output_type)
    rig = in_measured_air(as_calibrated_or_give_up(profile, journal), bench_file)
    plan = plan_or_give_up(order, sensor_type, rig)
    return Ready(study.course, order, sensor_type, rig, plan, _furnished(bench_file, study.course, plan))


def _furnished(bench_file: BenchFile | None, course: Course, plan: Plan) -> BenchFile | None:
    if bench_file is None:
        return None
    try:
        left = furnished(bench_file, course, plan)
    except ValueError as few:
        raise GiveUp(Exit.BAD_INPUT, f"{few}; allowed: another --bench") from None
    narrate("SIMULATED BENCH: no hardware is touched, units and people are made up.")
    return left


class _StudyWatch(Watch[OrderResult]):
    """Follows the trials, and takes in what is scanned or typed before each."""

    def __init__(self, options: Namespace, journal: Path, ready: Ready) -> None:
        scanned = ready.bench_file is None or options.real_time
        signed_in = signed_in_by(options.by)
        design, in_hand = ready.course.design, InHand()
        self._desk = desk = StudyDesk(ready.course, in_hand, self._wanted if scanned else None, signed_in)

        def hands(simulated: SimulatedBench, bench: Bench) -> None:
            simulated.person.attach(bench.operator)
            seat(simulated, design, in_hand)

        session = StudySession(
            study_job(design, ready.order, ready.sensor_type, ready.rig, ready.plan, in_hand),
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
