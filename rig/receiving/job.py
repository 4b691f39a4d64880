"""The job of receiving: some units of a lot, by a receiving plan, on a rig."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass

from rig.events import OrderInputs, Purpose
from rig.receiving.planned import Planned
from rig.receiving.stage import Receiving
from rig.sequencer.checking import check
from rig.sequencer.findings import Finding
from rig.sequencer.order_run import Job
from rig.sequencer.work import Work
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.terms import Verification


@dataclass(frozen=True, slots=True)
class DrawnUnits:
    """The units of a lot that are to be tested now, in the order in which they were drawn.

    `number` is that of the lot, `customer` its supplier: so the record finds them as it finds the units of an order.
    """

    number: str
    customer: str
    serials: Sequence[str]

    @property
    def quantity(self) -> int:
        """How many there are."""
        return len(self.serials)

    def unit_serials(self) -> tuple[str, ...]:
        """Their serials."""
        return tuple(self.serials)


def receiving_job(units: DrawnUnits, planned: Planned, sensor_type: SensorType, rig: RigProfile) -> Job:
    """Test units of a lot."""
    stages: Receiving[Work] = Receiving(planned, _proof(planned))
    lot = {"number": units.number, "supplier": units.customer, "serials": list(units.serials)}
    inputs = OrderInputs(
        lot | {"receiving": planned.receiving.model_dump(mode="json")},
        sensor_type.model_dump(mode="json"),
        rig.model_dump(mode="json"),
    )
    return Job(units, planned.delivered, Purpose.RECEIVE, (stages.receive,), inputs)


def _proof(planned: Planned) -> Callable[[Work], Awaitable[Finding]]:
    if planned.trial is None or planned.trial.method is Verification.POSITIONS:
        return check
    # Only here: it needs numpy, whose import takes longer than all the rest.
    from rig.measuring.stage import measured

    return measured
