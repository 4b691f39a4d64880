"""One order, the sensor type that it names and the rig: what planning knows before a setting is chosen."""

from __future__ import annotations

from dataclasses import dataclass

from rig.deciding.rule import DecisionRule
from rig.edges.finest import finest_mm
from rig.edges.task import edge_task
from rig.planning.budget import COVERAGE, Doubt, doubt_of, doubt_of_edge, doubt_of_edge_by_hand
from rig.planning.checks import Zone, zone_of
from rig.planning.conditions import Conditions, conditions_of
from rig.planning.hearing import Hearing, hearing_of
from rig.planning.rooms import Reach
from rig.statistics.edge_checks import DetectedSide
from rig.statistics.uncertainty import coverage_factor
from sequences.datasheet import Sensing
from sequences.need import Need
from sequences.order import Order, Setting
from sequences.sensor_type import SensorType
from sequences.steps import Sequence
from sequences.words import SetPoint
from wiring.profile import RigProfile, TargetKind
from wiring.terms import Verification


@dataclass(frozen=True, slots=True)
class Case:
    """Order, type and rig, with the airs, the doubt of every position and what the unit hears of the object."""

    order: Order
    sensor_type: SensorType
    rig: RigProfile
    conditions: Conditions
    doubt: Doubt
    hearing: Hearing

    @property
    def need(self) -> Need:
        """The need; an empty one where the order has none."""
        return self.order.need or Need()

    @property
    def sensing(self) -> Sensing:
        """What the type measures, and how well."""
        return self.sensor_type.sensing

    @property
    def bench_sensing(self) -> Sensing:
        """The same with blind zone and range as the air of the bench leaves them."""
        return self.conditions.on_bench(self.sensing)

    @property
    def method(self) -> Verification:
        """How the units are proved."""
        return self.order.checks.method or self.rig.target.verify

    @property
    def measured(self) -> bool:
        """Whether the edges of the units are measured."""
        return self.method is not Verification.POSITIONS

    @property
    def rule(self) -> DecisionRule:
        """When a value proves a requirement."""
        return DecisionRule(self.order.checks.rule, self.order.checks.largest_risk)

    @property
    def guards(self) -> float:
        """The guard of the rule, in expanded uncertainties of a position."""
        return self.rule.guard(1 / coverage_factor(COVERAGE), 1.0)

    @property
    def proof(self) -> Doubt:
        """The doubt of the figure that proves a set point."""
        if not self.measured:
            return self.doubt
        if self.by_hand:
            finest_mm = min(self.finest_mm(self._outermost_mm), self.rig.target.farthest_mm)
            return doubt_of_edge_by_hand(finest_mm, self.rig.target, self.conditions)
        return doubt_of_edge(self.rig.target, self.conditions)

    @property
    def by_hand(self) -> bool:
        """Whether a person moves the target."""
        return self.rig.target.kind is not TargetKind.STAGE

    def finest_mm(self, at_mm: float) -> float:
        """The finest expanded uncertainty (95 %) of an edge at a distance on the bench; endless if it has none."""
        ends_mm = (0.0, 2 * at_mm)
        task = edge_task(DetectedSide.NEARER, ends_mm, at_mm, self.sensor_type, at_mm)
        return finest_mm(task, self.rig.target)

    @property
    def _outermost_mm(self) -> float:
        """How far out an edge may have to be found, on the bench."""
        points_mm = self.order.setting.set_points_mm.values()
        at_mm = max(points_mm, default=self.need.farthest_mm or self.sensing.range_mm)
        return min(at_mm * self.conditions.scale, self.rig.target.farthest_mm)

    def reach(self, point: SetPoint) -> Reach:
        """How near and how far a set point may make the output switch."""
        return Reach(point, self.sensing, self.conditions, self.proof)

    def zone(self, setting: Setting) -> Zone:
        """The zone of a setting on the bench."""
        target, scale = self.rig.target, self.conditions.scale
        return zone_of(setting, self.bench_sensing, target, self.doubt, scale, self.proof, self.guards)


def case_of(order: Order, sensor_type: SensorType, rig: RigProfile) -> Case:
    """The case of an order."""
    need = order.need
    conditions = conditions_of(need.air if need else None, sensor_type.sensing, rig.air)
    return Case(
        order=order,
        sensor_type=sensor_type,
        rig=rig,
        conditions=conditions,
        doubt=doubt_of(sensor_type.sensing, rig.target, conditions),
        hearing=hearing_of(sensor_type, need.object if need else None),
    )


def sequence_of(setting: Setting, sensor_type: SensorType) -> Sequence | None:
    """The sequence that teaches a whole setting; None if the type cannot do it."""
    if setting.mode is None or setting.output_function is None:
        return None
    return sensor_type.sequence_for(setting.mode, setting.output_function)
