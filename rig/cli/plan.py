"""`teachrig plan`: what would be done, before anything moves."""

from __future__ import annotations

import json
from argparse import Namespace
from dataclasses import asdict

from rich.console import Console
from rich.table import Table

from rig.cli.exits import Exit, narrate
from rig.cli.inputs import open_library, plan_or_give_up, read_order, read_profile
from rig.planning.plan import Check, Plan
from sequences.order import Order


def command(options: Namespace) -> int:
    """Print the plan of an order."""
    library = open_library()
    order, sensor_type = read_order(options.order, library)
    plan = plan_or_give_up(order, sensor_type, read_profile(options.rig, library))
    if options.json:
        print(json.dumps({"order": order.number, **asdict(plan)}, indent=2, ensure_ascii=False))
    else:
        _print_plan(order, plan)
    for warning in plan.warnings:
        narrate(f"note: {warning}")
    return Exit.DONE


def _print_plan(order: Order, plan: Plan) -> None:
    console = Console(highlight=False, markup=False)
    points = ", ".join(f"{point} {at_mm:g} mm" for point, at_mm in plan.set_points)
    tolerance = f", tolerance {plan.tolerance_mm:g} mm" if points else ""
    console.print(f"order {order.number} for {order.customer}: {order.quantity} x {plan.sensor_type}")
    console.print(
        f"{plan.mode}, {plan.output_function}, {order.setting.output_type}: {points or 'no set points'}{tolerance}"
    )
    steps = Table("step", "what", title="teaching", title_justify="left", pad_edge=False)
    for number, step in enumerate(plan.steps, start=1):
        steps.add_row(str(number), step.text)
    console.print(steps)
    checks = Table(
        "target", "comes", "output", "proves", title="checks", title_justify="left", pad_edge=False
    )
    for check in plan.checks:
        checks.add_row(*_cells(check))
    console.print(checks)
    console.print(f"about {plan.expected_s:.0f} s a unit on the bench, without the person's time")


def _cells(check: Check) -> tuple[str, str, str, str]:
    where = "clear" if check.position_mm is None else f"{check.position_mm:.1f} mm"
    return where, str(check.approach), "on" if check.expected_on else "off", str(check.requirement)
