"""The table of units at the end of a run, and the words on every unit that is not good."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import groupby

from rich.console import Console
from rich.table import Table
from rich.text import Text

from rig.events import Verdict
from rig.sequencer.order_run import OrderResult
from rig.summary import CheckSummary, ContactSummary, UnitSummary

# IEC 60073: green normal, red fault, yellow abnormal, blue a person is wanted; word and mark carry it alone.
_VERDICTS = {
    Verdict.GOOD: ("+ good", "green"),
    Verdict.BAD: ("x bad", "red"),
    Verdict.UNDECIDED: ("? undecided", "yellow"),
}
_IN_WORK = ("  in work", "blue")


def print_units(
    units: Sequence[UnitSummary],
    *,
    title: str,
    more: tuple[str, Callable[[UnitSummary], str]] | None = None,
) -> None:
    """Print one row a unit to standard output, with an extra column `more` where asked for."""
    console = Console(highlight=False, markup=False)
    table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False)
    table.add_column("serial", no_wrap=True)
    table.add_column("verdict", no_wrap=True)
    for header in ("reason", "contacts s", "output at mm"):
        table.add_column(header, overflow="fold")
    table.add_column("time s", justify="right", no_wrap=True)
    if more is not None:
        table.add_column(more[0])
    for unit in units:
        table.add_row(*_cells(unit), *([more[1](unit)] if more else []))
    console.print(table)
    for unit in units:
        if unit.verdict is not Verdict.GOOD:
            mark, colour = _VERDICTS[unit.verdict] if unit.verdict else _IN_WORK
            console.print(Text.assemble((f"{unit.serial} {mark}", colour), f": {unit.words}"), soft_wrap=True)


def closing_words(result: OrderResult) -> str:
    """How the order stands: counts, what is left and why it ended early."""
    counts = ", ".join(f"{result.count(verdict)} {verdict}" for verdict in Verdict)
    left = f", {result.left} not begun" if result.left else ""
    ended = f"; ended early: {result.ended_by}" if result.ended_by else ""
    return f"{counts}{left}{ended}"


def _cells(unit: UnitSummary) -> list[Text | str]:
    mark, colour = _VERDICTS[unit.verdict] if unit.verdict else _IN_WORK
    return [
        unit.serial,
        Text(mark, style=colour),
        unit.reason.replace("-", " "),
        _contacts(unit.contacts),
        _operate_side(unit.checks),
        f"{unit.seconds_on_bench:.1f}",
    ]


def _contacts(contacts: Sequence[ContactSummary]) -> str:
    """Rail and length of each contact, equal ones counted: `L- 1.62, L+ 1.62` or `7 x L- 0.30`."""
    alike = [
        (len(list(group)), text) for text, group in groupby(f"{c.rail} {c.length_s:.2f}" for c in contacts)
    ]
    return ", ".join(f"{count}x{text}" if count > 1 else text for count, text in alike) or "-"


def _operate_side(checks: Sequence[CheckSummary]) -> str:
    """The readings on either side of each set point: `393.6 on, 406.4 off`."""
    shown = [check for check in checks if check.requirement.startswith(("outer set", "inner set"))]
    states = {True: "on", False: "off", None: "unsteady"}
    nearest_first = sorted(shown, key=lambda check: check.position_mm or 0.0)
    return ", ".join(f"{check.position_mm:.1f} {states[check.read_on]}" for check in nearest_first) or "-"
