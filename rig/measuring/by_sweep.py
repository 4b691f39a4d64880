"""One edge by sweeps: the target passes it at constant speed, in both directions, several times."""

from __future__ import annotations

from rig.edges.edge import EdgeFigures, Measured, Method, RepeatAccuracy, measured_point
from rig.edges.sweep import Lag, Pass, Swept, swept_edge
from rig.edges.task import FEWEST_APPROACHES, EdgeTask
from rig.measuring.by_steps import EdgeBySteps
from rig.measuring.hands import Hands
from rig.measuring.trouble import NotMeasured, Trouble
from wiring.profile import TargetProfile
from wiring.saying import say

_FEWEST_PASSES = 2
# The passes need the edge no better than this many hysteresis widths: it only shortens their way.
_ROUGHLY = 2.0


async def edge_by_sweep(hands: Hands, task: EdgeTask, target: TargetProfile) -> EdgeFigures:
    """Find the edge roughly, then pass it again and again; raises NotMeasured."""
    rough = EdgeBySteps(hands, task, target, _ROUGHLY * task.hysteresis_mm)
    operate = await rough.find_operate()
    inside_mm = rough.seat_inside_mm(operate)
    outside_mm = rough.beyond_any_release_mm(operate)
    inwards: list[Pass | None] = []
    outwards: list[Pass | None] = []
    for _ in range(max(task.approaches, FEWEST_APPROACHES)):
        inwards.append(await hands.cross(outside_mm, inside_mm, detected=True))
        outwards.append(await hands.cross(inside_mm, outside_mm, detected=False))
    swept_in = swept_edge(_good(inwards), Lag.by_data_sheet(task.response_on_s))
    swept_out = swept_edge(_good(outwards), Lag.by_data_sheet(task.response_off_s))
    repeat = RepeatAccuracy(swept_in.values, Method.SWEEP)
    return EdgeFigures.of(_point(swept_in, target), _point(swept_out, target), target, repeat)


def _good(passes: list[Pass | None]) -> list[Pass]:
    good = [one for one in passes if one is not None]
    if len(good) < _FEWEST_PASSES:
        raise NotMeasured(
            Trouble.OUTPUT_CHATTERS,
            say(
                "of {passes} passes only {good} changed the output just once",
                passes=len(passes),
                good=len(good),
            ),
        )
    return good


def _point(swept: Swept, target: TargetProfile) -> Measured:
    return measured_point(swept.mean, swept.components, target)
