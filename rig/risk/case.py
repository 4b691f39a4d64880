"""What is tried: one order on one rig, by one plan, under stated rates."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from hal.simulated.air import speed_of_sound_m_s
from hal.simulated.kind import UnitKind, shipped_kinds
from rig.jobs import job_of
from rig.planning.case import case_of
from rig.planning.compile import make_plan
from rig.planning.plan import Plan
from rig.planning.planned import whole_setting
from rig.risk.rates import Rates
from rig.sequencer.order_run import Job
from sequences.order import Order, Setting
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile


class NoSuchKind(ValueError):
    """Nobody says what units of this sensor type physically are."""


@dataclass(frozen=True)
class Case:
    """An order as it would be done, and what is assumed of units and bench.

    Another process is handed the files, as text, and plans anew. Raises NoSuchKind where no kind of simulated unit has
    the name of the sensor type.
    """

    order: Order
    sensor_type: SensorType
    rig: RigProfile
    rates: Rates

    def __post_init__(self) -> None:
        if self.sensor_type.name not in self.kinds:
            known = ", ".join(self.kinds)
            raise NoSuchKind(
                f"no simulated kind is named {self.sensor_type.name}; allowed: {known}, or a [[kind]] of this name "
                "in a table of rates (--rates)"
            )

    def __reduce__(self) -> tuple[Any, ...]:
        files = (self.order, self.sensor_type, self.rig, self.rates)
        return _case_from, tuple(one.model_dump_json() for one in files)

    @cached_property
    def plan(self) -> Plan:
        """The plan; raises PlanRefused where the order cannot be done on this rig."""
        return make_plan(self.order, self.sensor_type, self.rig)

    @cached_property
    def kinds(self) -> dict[str, UnitKind]:
        """All kinds of simulated units by name."""
        return shipped_kinds() | {kind.name: kind for kind in self.rates.kind}

    @property
    def kind(self) -> UnitKind:
        """What a sound unit of the order physically is."""
        return self.kinds[self.sensor_type.name]

    def noise_mm(self, at_mm: float) -> float:
        """Standard deviation of one look of a sound unit at a target."""
        return max(self.kind.noise_min_mm, self.kind.noise_percent / 100 * at_mm)

    @cached_property
    def setting(self) -> Setting:
        """The setting with what the plan proposes for what the order leaves out."""
        return whole_setting(self.order, self.plan)

    @cached_property
    def job(self) -> Job:
        """The work on one unit, as in production."""
        one = {"quantity": 1, "serials": ("UNIT-1",), "serial_run": None}
        return job_of(self.order.model_copy(update=one), self.sensor_type, self.rig, self.plan)

    @cached_property
    def sound_m_s(self) -> float | None:
        """Speed of sound in which set points have to hold; None for the air on the bench as it is.

        A unit that stores an echo time is taught for the middle of the machine's air. One that corrects for the air is
        promised to be right on the bench; what its correction leaves over comes on top of the tolerance.
        """
        conditions = case_of(self.order, self.sensor_type, self.rig).conditions
        if conditions.span is None or conditions.compensated:
            return None
        air = conditions.machine
        return speed_of_sound_m_s(air.temperature_c, air.humidity_percent, air.pressure_kpa)

    @cached_property
    def scale(self) -> float:
        """Bench distance over machine distance."""
        return case_of(self.order, self.sensor_type, self.rig).conditions.scale

    @property
    def tolerance_mm(self) -> float:
        """The tolerance of its set points; 5 % of the sensing range where it has none."""
        return self.setting.tolerance_mm or self.sensor_type.sensing.range_mm / 20


def _case_from(order: str, sensor_type: str, rig: str, rates: str) -> Case:
    return Case(
        Order.model_validate_json(order),
        SensorType.model_validate_json(sensor_type),
        RigProfile.model_validate_json(rig),
        Rates.model_validate_json(rates),
    )
