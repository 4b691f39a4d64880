"""The ends of a zone, roughly known, as tasks of measuring: between what, and how finely. Pure."""

from __future__ import annotations

from rig.edges.task import EdgeTask, edge_task, finest_uncertainty_mm
from rig.events import EdgeMeasured
from rig.statistics.edge_checks import DetectedSide
from rig.survey.bounds import Bounds
from rig.survey.recognise import Edge
from rig.survey.zone import Span
from sequences.sensor_type import SensorType
from wiring.profile import TargetProfile

# Of the guard that planning keeps: so any set point that a plan allows is told from the end of the range.
_SHARE_OF_GUARD = 1 / 3
# What is just possible takes for ever.
_ABOVE_FINEST = 1.05


def task_of(
    side: DetectedSide, span: Span, sensor_type: SensorType, target: TargetProfile, bounds: Bounds
) -> EdgeTask:
    """The task of measuring the edge within a span, as finely as is of use and as the bench can."""
    ends_mm = (min(span.inside_mm, span.outside_mm), max(span.inside_mm, span.outside_mm))
    edge_mm = sum(ends_mm) / 2
    wanted_mm = max(
        _SHARE_OF_GUARD * bounds.doubt.expanded_mm(edge_mm),
        _ABOVE_FINEST * finest_uncertainty_mm(target, edge_mm),
    )
    return edge_task(side, ends_mm, edge_mm, sensor_type, wanted_mm)


def edge_of(measured: EdgeMeasured) -> Edge:
    """What a measured edge, as it is recorded, says for recognising the setting."""
    on = (measured.response_on_s, measured.response_on_u_s)
    off = (measured.response_off_s, measured.response_off_u_s)
    responses = [(value, u) for value, u in (on, off) if value is not None and u is not None]
    slowest = max(responses, key=lambda one: one[0] - one[1], default=(None, 0.0))
    return Edge(measured.operate_mm, measured.operate_u_mm, *slowest)
