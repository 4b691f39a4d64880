"""How finely an edge can be measured on a rig, known before anything moves, whatever moves its target."""

from __future__ import annotations

from rig.edges.edge import Method
from rig.edges.slides import finest_slid_mm, method_of
from rig.edges.slots import finest_slotted_mm
from rig.edges.task import EdgeTask, TooFine, finest_uncertainty_mm
from wiring.profile import TargetKind, TargetProfile

BY_HAND = (Method.GAUGE, Method.SCALE, Method.SLOTS)
"""Methods for a target that a person moves."""


def finest_mm(task: EdgeTask, target: TargetProfile) -> float:
    """The finest expanded uncertainty (95 %) that can be wanted of an edge; endless where it cannot be found at all."""
    if target.kind is TargetKind.STAGE:
        return finest_uncertainty_mm(target, task.expected_mm)
    if target.kind is TargetKind.SLOTS:
        return finest_slotted_mm(task, target)
    return finest_slid_mm(task, target)


def way_of_measuring(task: EdgeTask, target: TargetProfile) -> Method:
    """Which method is used on a target; raises TooFine when none is fine enough."""
    if (smallest_mm := finest_mm(task, target)) > task.wanted_mm:
        raise TooFine(task.wanted_mm, smallest_mm)
    return task.method_on(target) if target.kind is TargetKind.STAGE else method_of(target)
