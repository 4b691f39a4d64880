"""Orders, rigs and units for the tests of planning."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from statistics import NormalDist
from typing import Any

from hypothesis import reject
from hypothesis import strategies as st

from rig.planning.compile import make_plan
from rig.planning.plan import Approach, Check, Plan, Requirement
from rig.planning.refusal import PlanRefused
from sequences.checks import CheckPlan
from sequences.library import load_type, shipped_types
from sequences.order import Order, Setting
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile, find_profile, load_profile
from wiring.terms import DetectionMode, OutputFunction, OutputType

TYPES = {name: load_type(path) for name, path in shipped_types().items()}
STAGE = load_profile(find_profile("simulated"))
BY_HAND = load_profile(find_profile("single-nest"))
GRAIN_MM = 0.1  # positions are whole tenths


@dataclass(frozen=True)
class Job:
    """What a plan is made from."""

    order: Order
    sensor_type: SensorType
    rig: RigProfile

    @property
    def plan(self) -> Plan:
        return make_plan(self.order, self.sensor_type, self.rig)

    @property
    def setting(self) -> Setting:
        return self.order.setting

    @property
    def mode(self) -> DetectionMode:
        assert self.setting.mode is not None
        return self.setting.mode

    def guard_mm(self, point_mm: float) -> float:
        """The guard of a set point, at the far end of its tolerance."""
        return self.guard_at_mm(point_mm + (self.setting.tolerance_mm or 0.0))

    def guard_at_mm(self, at_mm: float) -> float:
        """Two deviations of the half-widths over root three, root of the sum of squares (JCGM 100)."""
        return guard_at_mm(self.sensor_type, self.rig, at_mm)


def guard_at_mm(sensor_type: SensorType, rig: RigProfile, at_mm: float) -> float:
    target, sensing = rig.target, sensor_type.sensing
    half_widths_mm = (
        target.zero_error_mm,
        target.resolution_mm / 2,
        target.placement_mm,
        (sensing.resolution_mm or 0.0) / 2,
        at_mm * target.scale_error_percent / 100,
        at_mm * (1 - math.cos(math.radians(target.tilt_deg))),
        at_mm * sensing.repeat_accuracy_percent / 200,
    )
    return NormalDist().inv_cdf((1 + 0.9545) / 2) * math.hypot(*half_widths_mm) / math.sqrt(3)


def job(
    type_name: str,
    mode: DetectionMode | str = DetectionMode.SINGLE_POINT,
    output_function: OutputFunction | str = OutputFunction.NO,
    *,
    rig: RigProfile = STAGE,
    output_type: OutputType | None = None,
    checks: CheckPlan | None = None,
    **distances_mm: float,
) -> Job:
    sensor_type = TYPES[type_name]
    setting = Setting(
        mode=DetectionMode(mode),
        output_function=OutputFunction(output_function),
        output_type=output_type or sensor_type.output.types[0],
        **distances_mm,
    )
    order = Order(
        number="QOC-0900",
        customer="Quillmere Orchard Co-op",
        quantity=1,
        sensor_type=type_name,
        serials=("QOC-1",),
        setting=setting,
        checks=checks or CheckPlan(),
    )
    return Job(order, sensor_type, rig)


def rig_with(rig: RigProfile = STAGE, **target: Any) -> RigProfile:
    return rig.model_copy(update={"target": rig.target.model_copy(update=target)})


@st.composite
def feasible_jobs(draw: st.DrawFn, *modes: DetectionMode) -> Job:
    """Any setting that a shipped type offers and a rig can prove."""
    sensor_type = draw(st.sampled_from(list(TYPES.values())))
    mode, output_function = draw(
        st.sampled_from([one for one in sensor_type.offered if not modes or one[0] in modes])
    )
    rig = rig_with(
        nearest_mm=draw(st.sampled_from([0.0, 10.0])),
        farthest_mm=round(draw(st.floats(0.5, 1.5)) * sensor_type.sensing.range_mm, 1),
        placement_mm=round(draw(st.floats(0.05, 2.0)), 2),
    )
    try:
        distances_mm: dict[str, Any] = (
            {} if mode is DetectionMode.FULL_RANGE else draw(_distances_mm(sensor_type, rig, mode))
        )
        made = job(sensor_type.name, mode, output_function, rig=rig, **distances_mm)
        make_plan(made.order, made.sensor_type, made.rig)
    except (PlanRefused, ValueError):
        reject()
    return made


@st.composite
def _distances_mm(
    draw: st.DrawFn, sensor_type: SensorType, rig: RigProfile, mode: DetectionMode
) -> dict[str, float]:
    sensing = sensor_type.sensing
    first_mm, last_mm = sensing.blind_zone_mm, min(sensing.range_mm, rig.target.farthest_mm)
    if mode is DetectionMode.SINGLE_POINT:
        at_mm = round(draw(st.floats(first_mm, last_mm)), 2)
        points_mm, room_mm = {"at_mm": at_mm}, min(at_mm - first_mm, last_mm - at_mm)
    else:
        near_mm = round(draw(st.floats(first_mm, (first_mm + last_mm) / 2)), 2)
        far_mm = round(draw(st.floats(near_mm + sensing.smallest_window_mm, last_mm)), 2)
        points_mm = {"near_mm": near_mm, "far_mm": far_mm}
        room_mm = min(near_mm - first_mm, last_mm - far_mm, (far_mm - near_mm) / 2)
    finest_mm = 2 * guard_at_mm(sensor_type, rig, max(points_mm.values()))
    share = draw(st.sampled_from([0.01, 0.5, 0.99]) | st.floats(0.0, 1.0))
    tolerance_mm = finest_mm + share * (room_mm - finest_mm)
    return {**points_mm, "tolerance_mm": round(tolerance_mm, 2)}


@dataclass
class Unit:
    """Where a unit operates, in mm; what it does between operate and release point depends on its past."""

    near_mm: float
    far_mm: float
    travel_near_mm: float = 0.0
    travel_far_mm: float = 0.0
    inverse: bool = False
    detects: bool = field(default=False)

    def reads(self, at_mm: float | None, wander: Callable[[float], float] = lambda edge_mm: edge_mm) -> bool:
        """Its output with the target there; `wander` is what one reading makes of an operate point."""
        if at_mm is None:
            self.detects = False
        elif self.detects:
            nearest_mm = wander(self.near_mm) - self.travel_near_mm
            self.detects = nearest_mm <= at_mm <= wander(self.far_mm) + self.travel_far_mm
        else:
            self.detects = wander(self.near_mm) <= at_mm <= wander(self.far_mm)
        return self.detects is not self.inverse


@dataclass(frozen=True)
class Wander:
    """Where target and operate points stand to one another, reading by reading, from -1 to 1 of the guard."""

    shares: Sequence[float]


READINGS = 22  # more than any plan takes
CORNERS = [Wander([share] * READINGS) for share in (-1.0, 1.0)]
wanders = st.sampled_from(CORNERS) | st.builds(
    Wander,
    st.lists(st.sampled_from([-1.0, 1.0]) | st.floats(-1.0, 1.0), min_size=READINGS, max_size=READINGS),
)


def verdict(made: Job, unit: Unit, wander: Wander) -> str:
    """What the plan's checks make of a unit, by what the plan says of its proof positions."""
    shares = iter(wander.shares)

    def right(check: Check, at_mm: float | None) -> bool:
        share = next(shares)
        read = unit.reads(at_mm, lambda edge_mm: edge_mm + share * made.guard_at_mm(edge_mm))
        return read is check.expected_on

    found = "good"
    for check in made.plan.checks:
        if check.approach is Approach.FROM_CLEAR:
            unit.reads(None)
        if right(check, check.position_mm):
            continue
        if check.proof_mm is not None:
            if check.approach is Approach.FROM_CLEAR:
                unit.reads(None)
            if not right(check, check.proof_mm):
                return "bad"
        found = "undecided"
    return found


def check_of(plan: Plan, requirement: Requirement) -> Check:
    return next(one for one in plan.checks if one.requirement is requirement)


def requirements(plan: Plan) -> list[Requirement]:
    return [one.requirement for one in plan.checks]
