"""Measures one edge of the unit in the nest: operate and release point, repeat accuracy, response times."""

from __future__ import annotations

import asyncio

from rig.edges.edge import EdgeResult, Effort, Method
from rig.edges.task import EdgeTask
from rig.measuring.by_steps import EdgeBySteps
from rig.measuring.by_sweep import edge_by_sweep
from rig.measuring.hands import Hands
from rig.sequencer.work import Work


async def measure_edge(work: Work, task: EdgeTask) -> EdgeResult:
    """Measure one edge of the unit in the nest, which is powered and available; the bench is armed.

    Raises:
        TooFine: before anything moves, when the bench cannot measure as finely as wanted.
        NoDrive: likewise, when the target is moved by hand.
        NotMeasured: when the unit, or what stands in the beam, makes it impossible; with what to look at.
        InstrumentError, Tripped: when the bench fails.

    """
    target = work.bench.profile.target
    method, finding_mm = task.method_on(target), task.finding_mm(target)
    loop = asyncio.get_running_loop()
    hands, start_s = Hands(work, task), loop.time()
    await hands.prove_zone(task.inside_mm)
    if method is Method.SWEEP:
        figures = await edge_by_sweep(hands, task, target)
    else:
        figures = await EdgeBySteps(hands, task, target, finding_mm).measure()
    effort = Effort(method, hands.readings, hands.moves, loop.time() - start_s)
    return EdgeResult(task.side, task.wanted_mm, figures, effort)
