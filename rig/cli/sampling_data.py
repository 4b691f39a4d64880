"""A sampling plan as data: for programs, and its curves for a spreadsheet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from rig.sampling.designed import Designed
from rig.sampling.plan import Plan, SinglePlan
from rig.sampling.sequential import SequentialPlan
from rig.sampling.standard import tables
from rig.sampling.variables import VariablesPlan

CURVE_COLUMNS = ("share_bad", "accepted", "tested", "outgoing", "inspected")


def as_dict(designed: Designed) -> dict[str, Any]:
    """All that is said of a plan."""
    told: dict[str, Any] = {"plan": _plan(designed.plan), "lot_size": designed.lot_size}
    if designed.standard is not None:
        found = designed.standard
        told["standard"] = {
            **{name: getattr(found, name) for name in ("level", "aql_percent", "severity", "letter")},
            "table": asdict(found.table),
            "source": tables().source,
        }
    for name in ("good", "poor"):
        point = getattr(designed, name)
        if point is not None:
            accepted = designed.meets.accepts_with(point.share_bad)
            told[name] = {**asdict(point), "actual_risk": 1 - accepted if name == "good" else accepted}
    told["shares_are_of"] = "this lot" if designed.isolated else "the process"
    told["promises"] = list(designed.promises)
    told["curve"] = [asdict(row) for row in designed.rows()]
    return told


def curve_rows(designed: Designed) -> Iterator[tuple[object, ...]]:
    """The rows of the curves, in the order of `CURVE_COLUMNS`."""
    for row in designed.rows():
        yield tuple(getattr(row, name) for name in CURVE_COLUMNS)


def steps_of(plan: SequentialPlan) -> Iterator[tuple[int, int | None, int | None]]:
    """Units tested, and with how many bad the lot is accepted and rejected from there on: where either changes."""
    before: tuple[int | None, int | None] = (None, None)
    for tested in range(1, plan.last + 1):
        now = (plan.acceptance_number(tested), plan.rejection_number(tested))
        if now != before or tested == plan.last:
            yield tested, *now
        before = now


def _plan(plan: Plan) -> dict[str, Any]:
    match plan:
        case SinglePlan():
            return {"by": "counting", **asdict(plan), "rejection_number": plan.rejection_number}
        case VariablesPlan():
            return {"by": "values", **asdict(plan), "largest_share": plan.largest_share}
        case SequentialPlan():
            steps = [dict(zip(("tested", "accept", "reject"), step, strict=True)) for step in steps_of(plan)]
            return {"by": "unit by unit", **asdict(plan), "steps": steps}
    raise TypeError(f"no plan of ours: {plan!r}")
