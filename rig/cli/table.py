"""The table of units at the end of a run."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from rig.events import Verdict
from rig.sequencer.order_run import OrderResult
from rig.summary import CheckSummary, UnitSummary

# IEC 60073: green normal, red fault, yellow abnormal; the word and the mark carry it without colour.
_VERDICTS = {
    Verdict.GOOD: ("+ good", "green"),
    Verdict.BAD: ("x bad", "red"),
    Verdict.UNDECIDED: ("? undecided", "yellow"),
}


def print_units(
    units: Sequence[UnitSummary],
    *,
    title: str,
    result: OrderResult | None = None,
    more: tuple[str, Callable[[UnitSummary], str]] | None = None,
) -> None:
    """Print one row a unit to standard output, with an extra column `more` where asked for."""
    console = Console(highlight=False, markup=False)
    table = Table(title=title, title_justify="left", title_style="bold", pad_edge=False)
    for header in ("serial", "verdict", "reason", "contacts s", "operate side", "on bench s"):
        table.add_column(header, justify="right" if header.endswith(" s") else "left", overflow="fold")
    if more is not None:
        table.add_column(more[0])
    for unit in units:
        table.add_row(*_cells(unit), *([more[1](unit)] if more else []))
    console.print(table)
    if result is not None:
        console.print(_closing_words(result))


def _cells(unit: UnitSummary) -> list[Text | str]:
    mark, colour = _VERDICTS[unit.verdict] if unit.verdict else ("  in work", "blue")
    contacts = " ".join(f"{contact.length_s:.2f}" for contact in unit.contacts) or "-"
    return [
        unit.serial,
        Text(mark, style=colour),
        unit.words,
        contacts,
        _operate_side(unit.checks),
        f"{unit.seconds_on_bench:.1f}",
    ]


def _operate_side(checks: Sequence[CheckSummary]) -> str:
    """The readings on either side of each set point: `413 on, 427 off`."""
    shown = [check for check in checks if check.requirement.startswith(("outer set", "inner set"))]
    states = {True: "on", False: "off", None: "unsteady"}
    nearest_first = sorted(shown, key=lambda check: check.position_mm or 0.0)
    return ", ".join(f"{check.position_mm:.1f} {states[check.read_on]}" for check in nearest_first) or "-"


def _closing_words(result: OrderResult) -> str:
    counts = ", ".join(f"{result.count(verdict)} {verdict}" for verdict in Verdict)
    left = f", {result.left} not begun" if result.left else ""
    ended = f"; ended early: {result.ended_by}" if result.ended_by else ""
    return f"{counts}{left}{ended}"
