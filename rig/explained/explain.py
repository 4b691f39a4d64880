"""A plan worked out from its inputs once more, in chapters."""

from __future__ import annotations

from rig.explained.air import bench_speed, drift_formulas
from rig.explained.budget import budget_formulas
from rig.explained.echo import echo_formulas
from rig.explained.positions import clearance_formulas, edge_formulas, end_formulas, measured_formulas
from rig.explained.sheet import Chapter, Sheet
from rig.explained.verdicts import motion_formulas, risk_formulas, time_formulas
from rig.planning.planned import POINT_NAMES, Planned
from wiring.saying import say


def explain(planned: Planned) -> tuple[Chapter, ...]:
    """Every figure of a plan that a formula gives, in an order in which each can be followed from those before."""
    sheet = Sheet()
    sheet.begin("air, and where the target stands for a set point at the machine")
    drift_formulas(sheet, planned)
    _positions(sheet, planned)
    sheet.begin("how well the target is heard")
    bench_speed(sheet, planned)
    for echo in planned.plan.grounds.echoes:
        echo_formulas(sheet, planned, echo)
    for risk in planned.plan.grounds.risks:
        sheet.begin(f"risks of deciding on the {POINT_NAMES[risk.point]}")
        risk_formulas(sheet, planned, risk)
    sheet.begin("passing objects")
    motion_formulas(sheet, planned)
    sheet.begin("time")
    time_formulas(sheet, planned)
    return sheet.chapters()


def _positions(sheet: Sheet, planned: Planned) -> None:
    for one in planned.plan.grounds.points:
        sheet.begin(f"uncertainty of the {POINT_NAMES[one.point]} (JCGM 100)")
        guard = budget_formulas(sheet, planned, one.point)
        if planned.case.measured:
            sheet.begin(
                say("limits of the {point} as it is measured, on the bench", point=POINT_NAMES[one.point])
            )
            measured_formulas(sheet, planned, one, guard)
        else:
            sheet.begin(say("check positions of the {point}, on the bench", point=POINT_NAMES[one.point]))
            edge_formulas(sheet, planned, one, guard)
        sheet.begin(f"room around the {POINT_NAMES[one.point]}, at the machine")
        clearance_formulas(sheet, planned, one)
    if not planned.plan.grounds.points:
        sheet.begin("uncertainty at the end of the range (JCGM 100)")
        budget_formulas(sheet, planned, None)
    sheet.begin("check positions inside the zone and at its ends")
    end_formulas(sheet, planned)
