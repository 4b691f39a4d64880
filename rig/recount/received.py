"""A unit of a lot as the record holds it: what it was tested by, made once more from the recorded files."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from rig.receiving.planned import CannotReceive, Planned, planned
from rig.receiving.stage import Receiving
from rig.recount.attempt import Attempt, NotRebuilt, rebuilt
from rig.recount.recorded import RecordedWork
from rig.sequencer.checking import check
from rig.sequencer.findings import Finding
from sequences.receiving import ReceivingPlan
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile
from wiring.terms import Verification


@dataclass(frozen=True, slots=True)
class ReceivedMade:
    """What a unit of a lot was tested by, and the rig."""

    planned: Planned
    rig: RigProfile

    def stage(self) -> Callable[[RecordedWork], Awaitable[Finding]]:
        """The stage that tested it, for its record."""
        return Receiving(self.planned, self._proof()).receive

    def _proof(self) -> Callable[[RecordedWork], Awaitable[Finding]]:
        trial, rig = self.planned.trial, self.rig
        if trial is None or trial.method is Verification.POSITIONS:
            return check
        # Only here: it needs numpy, whose import takes longer than all the rest.
        from rig.measuring.replay import measured_again

        return lambda work: measured_again(work, rig)


def received_made(attempt: Attempt) -> ReceivedMade:
    """The same once more from the recorded files; raises NotRebuilt."""
    if attempt.started is None or attempt.inputs is None:
        raise NotRebuilt(
            "the record does not hold the receiving plan, the sensor type and the rig that were used"
        )
    receiving = rebuilt("receiving plan", ReceivingPlan, attempt.inputs.order.get("receiving", {}))
    sensor_type = rebuilt("sensor type", SensorType, attempt.inputs.sensor_type)
    rig = rebuilt("rig profile", RigProfile, attempt.inputs.rig)
    if (sensor_type.name, rig.name) != (attempt.started.sensor_type, attempt.started.rig):
        raise NotRebuilt("sensor type and rig of the record are not those that it was begun with")
    try:
        return ReceivedMade(planned(receiving, sensor_type, rig), rig)
    except CannotReceive as why:
        raise NotRebuilt(f"this program refuses the recorded receiving plan: {why}") from None
