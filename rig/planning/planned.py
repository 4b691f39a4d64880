"""A plan together with what it was made from: order, type and rig, the whole setting, its zone on the bench."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from rig.edges.edge import Edge
from rig.planning.case import Case, case_of
from rig.planning.checks import Zone
from rig.planning.grounds import PositionBudget
from rig.planning.plan import Plan
from sequences.order import POINT_KEYS, Order, Setting
from sequences.sensor_type import SensorType
from sequences.words import SetPoint
from wiring.profile import RigProfile
from wiring.terms import Verification

POINT_NAMES: Mapping[SetPoint, str] = MappingProxyType(
    {SetPoint.NEAR: "near set point", SetPoint.FAR: "far set point", SetPoint.ONLY: "set point"}
)
"""What a person calls a set point."""
EDGE_NAMES: Mapping[Edge, str] = MappingProxyType(
    {Edge.OUTER: "outer edge", Edge.INNER: "inner edge", Edge.BLIND: "end of the blind zone"}
)
"""What a person calls an end of the zone."""
HOW_PROVED: Mapping[Verification, str] = MappingProxyType(
    {
        Verification.POSITIONS: "output read at the check positions",
        Verification.MEASURED: "edges measured with the target drive",
        Verification.GUIDED: "edges caught while a person slides the target",
    }
)
"""How units are proved, in words."""


def spoken(words: str) -> str:
    """Words of the planner with every set point called what a person calls it."""
    for point, name in POINT_NAMES.items():
        words = words.replace(f"set point {point}", name)
    return words


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan and its case; `setting` has what the order left out, as it was proposed."""

    case: Case
    plan: Plan
    setting: Setting
    zone: Zone

    def guard_position_mm(self, point: SetPoint) -> float:
        """Where on the bench the guard of a set point is taken: the farthest operate point inside tolerance."""
        return self.setting.set_points_mm[point] * self.zone.scale + self.zone.tolerance

    def budgets(self) -> tuple[tuple[SetPoint | None, PositionBudget], ...]:
        """The uncertainty budget of every set point; that of the end of the range where there is none."""
        points = self.setting.set_points_mm
        if not points:
            return ((None, self.zone.proof.budget(self.zone.end)),)
        return tuple((point, self.zone.proof.budget(self.guard_position_mm(point))) for point in points)


def planned(order: Order, sensor_type: SensorType, rig: RigProfile, plan: Plan) -> Planned:
    """A plan beside its order, type and rig."""
    setting = whole_setting(order, plan)
    case = case_of(order, sensor_type, rig)
    return Planned(case, plan, setting, case.zone(setting))


def whole_setting(order: Order, plan: Plan) -> Setting:
    """The setting of an order with what its plan proposes for the rest."""
    points = {POINT_KEYS[point]: at_mm for point, at_mm in plan.set_points}
    tolerance_mm = plan.tolerance_mm if plan.set_points else None
    return order.setting.model_copy(
        update={
            "mode": plan.mode,
            "output_function": plan.output_function,
            "tolerance_mm": tolerance_mm,
            **points,
        }
    )
