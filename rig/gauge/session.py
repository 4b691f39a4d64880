"""Running a study on a bench: its job, and the session that feeds its course and seats the simulated units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from hal.bench import Bench
from rig.chronicle import Chronicle
from rig.events import Purpose, TrialBegun
from rig.gauge.course import Course
from rig.gauge.design import Design, Trial
from rig.gauge.desk import InHand
from rig.gauge.stage import Trying
from rig.jobs import inputs_of
from rig.measuring.measure import port_on
from rig.planning.plan import Plan
from rig.sequencer.order_run import Job, OrderResult
from rig.sequencer.work import Work
from rig.session import Session
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile

if TYPE_CHECKING:
    from hal.simulated.bench import SimulatedBench


@dataclass(frozen=True, slots=True)
class StudyUnits:
    """The units of a study under its number."""

    number: str
    customer: str
    serials: tuple[str, ...]

    @property
    def quantity(self) -> int:
        """How many units."""
        return len(self.serials)

    def unit_serials(self) -> tuple[str, ...]:
        """Their serials."""
        return self.serials


def study_job(
    design: Design, order: Order, sensor_type: SensorType, rig: RigProfile, plan: Plan, in_hand: InHand
) -> Job:
    """Measure the unit of each trial, as its order says."""

    def begin(work: Work) -> TrialBegun:
        assert in_hand.trial is not None, "a unit in the nest was handed over"
        begun = trial_begun(design, in_hand.trial)
        work.note(begun)
        return begun

    trying = Trying(port_on, begin)
    # Under the number of the study, so that its plan is found again by its record.
    recorded = order.model_copy(update={"number": design.study})
    units = StudyUnits(design.study, order.customer, design.units)
    return Job(units, plan, Purpose.STUDY, (trying.measure,), inputs_of(recorded, sensor_type, rig))


def trial_begun(design: Design, trial: Trial) -> TrialBegun:
    """The begin of a trial for the record."""
    return TrialBegun(design.study, trial.number, trial.level, trial.repeat, design.edge)


@dataclass(frozen=True)
class StudySession(Session):
    """The trials of a study that are left; `desk` hands them over, and goes by `course`."""

    course: Course | None = None

    async def work(self, bench: Bench, chronicle: Chronicle) -> OrderResult:
        """Trial after trial."""
        assert self.course is not None, "given by whoever runs a study"
        chronicle.watch(self.course.take)
        return await super().work(bench, chronicle)


def seat(simulated: SimulatedBench, design: Design, in_hand: InHand) -> None:
    """Let a simulated bench keep the units of a study, and know whose hands put each of them in."""
    world = simulated.world
    world.keep(design.units)

    def puts_in(trial: Trial) -> None:
        world.puts_in = trial.level

    in_hand.told.append(puts_in)
