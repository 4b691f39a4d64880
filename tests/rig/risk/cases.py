"""Cases for the tests of risk: one order, with rates of one's own."""

from __future__ import annotations

from typing import Any

from rig.library import Library
from rig.risk.case import Case
from rig.risk.rates import Rates
from sequences.checks import CheckPlan
from sequences.words import Rule

LIBRARY = Library(None)


def rates(*unit_faults: dict[str, Any], bench: tuple[dict[str, Any], ...] = (), **spread: Any) -> Rates:
    """A table with these faults; JSON-like, as from a file."""
    return Rates.model_validate(
        {"title": "test", "spread": spread, "unit_fault": unit_faults, "bench_fault": bench}
    )


def case(
    order: str = "tipper-point-no", table: Rates | None = None, *, rule: Rule = Rule.GUARDED, **setting: Any
) -> Case:
    """A shipped order, perhaps with another setting."""
    made, sensor_type = LIBRARY.read_order(order)
    changed = made.model_copy(
        update={"setting": made.setting.model_copy(update=setting), "checks": CheckPlan(rule=rule)}
    )
    return Case(changed, sensor_type, LIBRARY.read_rig("simulated"), table or rates())
