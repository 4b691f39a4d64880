"""Jobs: what is done with each unit of an order, from its files to the stages of the work."""

from __future__ import annotations

from rig.events import OrderInputs, Purpose
from rig.planning.plan import Plan
from rig.sequencer.checking import check
from rig.sequencer.inspection import inspect
from rig.sequencer.order_run import Job
from rig.sequencer.teaching import teach
from rig.sequencer.unit_run import Stage
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.terms import Verification


def job_of(
    order: Order, sensor_type: SensorType, rig: RigProfile, plan: Plan, purpose: Purpose = Purpose.SET
) -> Job:
    """Set every unit of an order and prove it as its plan says; without teaching it where it is only verified."""
    taught: tuple[Stage, ...] = (inspect, teach) if purpose is Purpose.SET else (inspect,)
    return Job(order, plan, purpose, (*taught, _proof(plan)), inputs_of(order, sensor_type, rig))


def inputs_of(order: Order, sensor_type: SensorType, rig: RigProfile) -> OrderInputs:
    """The files that a plan was made from, for the record."""
    return OrderInputs(*(model.model_dump(mode="json") for model in (order, sensor_type, rig)))


def _proof(plan: Plan) -> Stage:
    if plan.method is not Verification.POSITIONS:
        # Only here: it needs numpy, whose import takes longer than all the rest.
        from rig.measuring.stage import measured

        return measured
    return check
