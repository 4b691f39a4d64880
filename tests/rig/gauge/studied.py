"""A gauge study done on the simulated rig, whole or in part, with or without a record."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.faults import UnitFault, UnitFaultKind
from hal.simulated.truths import Hand, SeatingTruth
from rig.gauge.course import Course
from rig.gauge.design import Design, Factor, drawn_trials
from rig.gauge.desk import InHand, StudyDesk
from rig.gauge.opening import limits_of
from rig.gauge.session import StudySession, seat, study_job
from rig.gauge.taking_up import furnished
from rig.library import Library
from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.sequencer.order_run import OrderResult
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile

LEVELS = ("Maren", "Tobias", "Ilse")
ORDER = "spares-window-measured"
EDGE = "outer"


@dataclass(frozen=True)
class Rig:
    """An order on the simulated rig, planned once; with `wanted_mm` only edges are measured, to within so much."""

    wanted_mm: float | None = None

    @cached_property
    def files(self) -> tuple[Order, SensorType, RigProfile]:
        library = Library(None)
        return (*library.read_order(ORDER), library.read_rig("simulated"))

    @cached_property
    def plan(self) -> Plan:
        plan = make_plan(*self.files)
        if self.wanted_mm is None:
            return plan
        assert plan.measuring is not None
        tasks = tuple(replace(task, approaches=0, wanted_mm=self.wanted_mm) for task in plan.measuring.tasks)
        return replace(plan, measuring=replace(plan.measuring, tasks=tasks))

    def design(
        self, units: int = 10, levels: Sequence[str] = LEVELS, repeats: int = 3, seed: int = 1
    ) -> Design:
        """A study of this order."""
        order, sensor_type, profile = self.files
        names = tuple(f"KEPT-{number:02}" for number in range(1, units + 1))
        low_mm, high_mm = limits_of(self.plan, EDGE)
        return Design(
            "GAUGE-1",
            order.number,
            sensor_type.name,
            profile.name,
            profile.nest[0].name,
            EDGE,
            low_mm,
            high_mm,
            Factor.PERSON,
            names,
            tuple(levels),
            repeats,
            seed,
            drawn_trials(names, levels, repeats, seed),
        )

    def bench(
        self, offsets_mm: Sequence[float], hands_mm: Sequence[float], spread_mm: float, seed: int
    ) -> BenchFile:
        """A simulated bench of units that are off by so much, put in by people that are, and not alike each time."""
        order, _, _ = self.files
        rows = tuple(
            UnitRow(faults=(UnitFault(kind=UnitFaultKind.STORES_WRONGLY, offset_mm=round(one, 4) or 1e-4),))
            for one in offsets_mm
        )
        by = tuple(Hand(name=name, offset_mm=one) for name, one in zip(LEVELS, hands_mm, strict=True))
        bench = BenchFile(
            title="kept", seed=seed, seating=SeatingTruth(spread_mm=spread_mm, by=by), unit=rows
        )
        return bench.as_ordered(order.sensor_type, order.setting.output_type)

    def run(self, course: Course, bench: BenchFile, journal: Path | None = None) -> OrderResult:
        """Do the trials that are left; `course` is fed."""
        in_hand = InHand()
        desk = StudyDesk(course, in_hand)
        job = study_job(course.design, *self.files, self.plan, in_hand)

        def hands(simulated, opened):
            simulated.person.attach(opened.operator)
            seat(simulated, course.design, in_hand)

        rig = self.files[2]
        session = StudySession(
            job, rig, furnished(bench, course, self.plan), False, journal, desk, hands, course=course
        )
        return session.start(lambda _: None).result(300)
