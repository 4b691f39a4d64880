"""Reads and plans what the screen works on; whatever stands against it is one error with words for the person."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import as_file, files
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from hal.errors import BenchError
from rig.air_now import in_measured_air
from rig.calibration.using import as_calibrated, refusal_by_calibration
from rig.jobs import job_of
from rig.library import Library
from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.planning.refusal import PlanRefused
from rig.sequencer.order_run import Job
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.saying import said_by, say
from wiring.tomlfile import DataFileError

if TYPE_CHECKING:
    from hal.simulated.benchfile import BenchFile
    from wiring.terms import OutputType

_T = TypeVar("_T")


# Nobody reads a request and does it in less: a key that bounces, or a scanner that ends in two Enters, says nothing.
QUICKEST_S = 0.4


class CannotStart(ValueError):
    """An order that cannot be worked on as it is, with every reason; `lines` are what it says, one by one."""

    def __init__(self, *lines: str) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


@dataclass(frozen=True, slots=True)
class Setup:
    """One order on one bench, read and planned.

    Attributes:
        bench_file: what the simulated bench holds; None on a real one.
        real_time: whether a simulated bench runs as slowly as a real one, or `speed` times as fast.
        practice: whether a newcomer is led through it.

    """

    job: Job
    order: Order
    sensor_type: SensorType
    profile: RigProfile
    bench_file: BenchFile | None
    journal: Path | None
    real_time: bool = True
    speed: float = 1.0
    practice: bool = False
    quickest_s: float = QUICKEST_S

    @property
    def simulated(self) -> bool:
        """Whether no hardware is touched."""
        return self.bench_file is not None


@dataclass(frozen=True, slots=True)
class BareBench:
    """A bench without an order; the fields are those of `Setup`."""

    profile: RigProfile
    bench_file: BenchFile | None
    journal: Path | None
    real_time: bool
    speed: float


_ANY_KIND = "barrel-18-rail"
"""Of what the units are that lie ready at a simulated bench on which none is taught."""


@dataclass(frozen=True, slots=True)
class Bench:
    """The bench that orders are done on, as the command line named it.

    Attributes:
        holds: file or name of what the simulated bench holds; None on a board.
        journal: where the record is kept.
        speed: how many times as fast as real time a simulated bench runs.

    """

    library: Library
    profile: RigProfile
    holds: str | None
    journal: Path
    speed: float = 1.0
    quickest_s: float = QUICKEST_S
    real_time: bool = True

    def order(self, name_or_path: str) -> Setup:
        """An order by its file or name; raises CannotStart."""
        return self.planned(*_read(lambda: self.library.read_order(name_or_path)))

    def planned(self, order: Order, sensor_type: SensorType) -> Setup:
        """An order that was read already; raises CannotStart."""
        today = datetime.now().astimezone().date()
        profile = as_calibrated(self.profile, self.journal, today)
        try:
            plan = make_plan(order, sensor_type, profile)
        except PlanRefused as refused:
            raise CannotStart(
                say("order {order} cannot be done:", order=order.number), *map(str, refused.refusals)
            ) from None
        refusal = refusal_by_calibration(order, self.profile, self.journal, today)
        if refusal:
            raise CannotStart(refusal)
        bench_file = self.furnished(order.sensor_type, order.setting.output_type)
        if profile.air.probe is not None:
            profile, plan = _in_measured_air(profile, bench_file, order, sensor_type)
        return Setup(
            job_of(order, sensor_type, profile, plan),
            order,
            sensor_type,
            profile,
            bench_file,
            self.journal,
            self.real_time,
            self.speed,
            quickest_s=self.quickest_s,
        )

    @property
    def simulated(self) -> bool:
        """Whether no hardware is touched."""
        return self.holds is not None

    def bare(self) -> BareBench:
        """The bench for work on the rig itself, without an order; raises CannotStart."""
        bench_file = self.furnished(_ANY_KIND)
        return BareBench(self.profile, bench_file, self.journal, self.real_time, self.speed)

    def furnished(self, kind: str, output_type: OutputType | None = None) -> BenchFile | None:
        """What the simulated bench holds, units of `kind` where its file names none; None on a board."""
        if (holds := self.holds) is None:
            return None
        try:
            return _read(lambda: self.library.read_bench(holds)).as_ordered(kind, output_type)
        except ValueError as misfit:
            raise CannotStart(f"{holds}: {misfit}") from None


def _in_measured_air(
    profile: RigProfile, bench_file: BenchFile | None, order: Order, sensor_type: SensorType
) -> tuple[RigProfile, Plan]:
    try:
        profile = in_measured_air(profile, bench_file)
        return profile, make_plan(order, sensor_type, profile)
    except (BenchError, PlanRefused) as why:
        raise CannotStart(
            say("order {order} in the air as it is now: {why}", order=order.number, why=said_by(why))
        ) from None


def practice(library: Library, speed: float, journal: Path | None = None) -> Setup:
    """The order that a newcomer practises on; its record is no more than `journal`, apart from that of real work."""
    with as_file(files("rig.screen") / "practice") as folder:
        order, sensor_type = library.read_order(str(folder / "order.toml"))
        profile = library.read_rig(str(folder / "rig.toml"))
        bench_file = library.read_bench(str(folder / "bench.toml"))
    plan = make_plan(order, sensor_type, profile)
    return Setup(
        job_of(order, sensor_type, profile, plan),
        order,
        sensor_type,
        profile,
        bench_file.as_ordered(order.sensor_type, order.setting.output_type),
        journal,
        speed=speed,
        practice=True,
    )


def _read(read: Callable[[], _T]) -> _T:
    try:
        return read()
    except DataFileError as problems:
        raise CannotStart(*map(str, problems.problems)) from None
