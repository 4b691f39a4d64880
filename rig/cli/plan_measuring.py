"""What a plan measures of each unit, and what it holds that against."""

from __future__ import annotations

from collections.abc import Iterator

from rig.cli.layout import Page
from rig.deciding.requirement import Requirement
from rig.deciding.rule import limit_words
from rig.edges.task import EdgeTask
from rig.planning.planned import EDGE_NAMES, Planned


def print_measuring(planned: Planned, page: Page) -> None:
    """The edges, how each is found, and every requirement with its limits; nothing where positions are read."""
    measuring, target = planned.plan.measuring, planned.case.rig.target
    if measuring is None:
        return
    page.heading("edges measured, in mm on the bench")
    page.table(
        ("edge", ">expected", ">looked for", "how", ">U wanted", ">approaches"),
        [tuple(_edge_cells(task, str(task.method_on(target)))) for task in measuring.tasks],
    )
    page.say(
        "U: expanded uncertainty, 95 %. Where it leaves a unit undecided, the edge is measured on, if that helps."
    )
    page.heading("what a unit has to meet")
    page.table(("requirement", "limits"), [(one.name, _limits(one)) for one in measuring.required])


def _edge_cells(task: EdgeTask, how: str) -> Iterator[str]:
    yield EDGE_NAMES[task.called]
    yield f"{task.expected_mm:.1f}"
    yield f"{task.low_mm:.1f} to {task.high_mm:.1f}"
    yield how
    yield f"{task.wanted_mm:.2f}"
    yield str(task.approaches or "-")


def _limits(one: Requirement) -> str:
    return "as the checks read it" if one.low is None and one.high is None else limit_words(one)
