"""The stage of the work on a unit in which it is measured."""

from __future__ import annotations

from rig.measuring.measure import port_on
from rig.measuring.unit import UnitMeasurement
from rig.sequencer.findings import Finding
from rig.sequencer.work import Work


async def measured(work: Work) -> Finding:
    """Measure the unit in the nest and come to its verdict; raises what the bench raises."""
    measuring = work.plan.measuring
    assert measuring is not None, "the plan says that the unit is measured"
    return await UnitMeasurement(port_on(work, measuring.response_s), work.plan, measuring).run()
