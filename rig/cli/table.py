"""The table of units at the end of a run, and the words on every unit that is not good."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import groupby

from rich.table import Table
from rich.text import Text

from rig.cli.console import PlainConsole
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
_GAP = 2


@dataclass(frozen=True)
class Column:
    """One column: what it says of a unit, and whether it may be left out where there is no room."""

    header: str
    says: Callable[[UnitSummary], Text | str]
    needed: bool = False
    right: bool = False

    def width(self, units: Sequence[UnitSummary]) -> int:
        """Characters that it takes, with the gap before it."""
        return _GAP + max(len(self.header), *(len(self.says(unit)) for unit in units))


def print_units(
    units: Sequence[UnitSummary],
    *,
    title: str,
    more: tuple[str, Callable[[UnitSummary], str]] | None = None,
) -> None:
    """Print one row a unit to standard output, with an extra column `more` where asked for.

    Columns that the terminal has no room for follow in a table of their own.
    """
    if not units:
        return
    console = PlainConsole()
    columns = [*_COLUMNS[:3], *([Column(*more, needed=True)] if more else []), *_COLUMNS[3:]]
    # Units that are not taught have no contacts, and those that are measured no readings beside their edges.
    columns = [column for column in columns if any(column.says(unit) != "-" for unit in units)]
    fitting = _that_fit(columns, units, console.width)
    console.print(Text(title, style="bold"))
    console.print_table(_table(fitting, units))
    further = [column for column in columns if column not in fitting]
    if further:
        console.print(Text("\nwhat was measured", style="bold"))
        console.print_table(_table([columns[0], *further], units))
        console.print()
    for unit in units:
        if unit.verdict is not Verdict.GOOD:
            print_words(_words(unit), console)


def print_words(words: Text | str, console: PlainConsole | None = None) -> None:
    """Print words that in a file keep to one line, and on a screen are not cut in two."""
    console = console or PlainConsole()
    console.print(words, soft_wrap=not console.is_terminal)


def verdict_words(unit: UnitSummary) -> str:
    """Serial, verdict and why, in one plain line."""
    return _words(unit).plain


def verdict_text(verdict: Verdict | None) -> Text:
    """A verdict in colour, with the mark that carries it alone; None: still in work."""
    mark, colour = _VERDICTS[verdict] if verdict else _IN_WORK
    return Text(mark, style=colour)


def closing_words(result: OrderResult) -> str:
    """How the order stands: counts, what is left and why it ended early."""
    counts = ", ".join(f"{result.count(verdict)} {verdict}" for verdict in Verdict)
    left = f", {result.left} not begun" if result.left else ""
    ended = f"; ended early: {result.ended_by}" if result.ended_by else ""
    return f"{counts}{left}{ended}"


def _table(columns: Sequence[Column], units: Sequence[UnitSummary]) -> Table:
    table = Table(box=None, pad_edge=False)
    table.padding = (0, _GAP, 0, 0)
    for column in columns:
        table.add_column(column.header, overflow="fold", justify="right" if column.right else "left")
    for unit in units:
        table.add_row(*(column.says(unit) for column in columns))
    return table


def _that_fit(columns: Sequence[Column], units: Sequence[UnitSummary], width: int) -> list[Column]:
    """The columns for which there is room, each whole; those that are needed in any case."""
    room = width + _GAP - sum(column.width(units) for column in columns if column.needed)
    chosen = []
    for column in columns:
        if not column.needed:
            room -= column.width(units)
        if column.needed or room >= 0:
            chosen.append(column)
    return chosen


def _words(unit: UnitSummary) -> Text:
    mark, colour = _VERDICTS[unit.verdict] if unit.verdict else _IN_WORK
    return Text.assemble((f"{unit.serial} {mark}", colour), f": {unit.words}")


def _verdict(unit: UnitSummary) -> Text:
    return verdict_text(unit.verdict)


def _contacts(contacts: Sequence[ContactSummary]) -> str:
    """Rail and length of each contact, equal ones counted: `L- 1.62, L+ 1.62` or `7x L- 0.30`."""
    alike = [
        (len(list(group)), text) for text, group in groupby(f"{c.rail} {c.length_s:.2f}" for c in contacts)
    ]
    return ", ".join(f"{count}x {text}" if count > 1 else text for count, text in alike) or "-"


def _operate_side(unit: UnitSummary) -> str:
    """Where it operates, `399.3 +-0.9`, or the readings on either side of each set point, `393.6 on, 406.4 off`."""
    found = [edge.found for edge in unit.edges.values() if edge.found is not None]
    if found:
        nearest = sorted(found, key=lambda edge: edge.operate_mm)
        return ", ".join(f"{edge.operate_mm:.1f} \u00b1{edge.operate_u_mm:.1f}" for edge in nearest)
    checks: Sequence[CheckSummary] = unit.checks
    shown = [check for check in checks if check.requirement.startswith(("outer set", "inner set"))]
    states = {True: "on", False: "off", None: "unsteady"}
    nearest_first = sorted(shown, key=lambda check: check.position_mm or 0.0)
    # What was read twice and came out the same is said once.
    said = dict.fromkeys(f"{check.position_mm:.1f} {states[check.read_on]}" for check in nearest_first)
    return ", ".join(said) or "-"


_COLUMNS = (
    Column("serial", lambda unit: unit.serial, needed=True),
    Column("verdict", _verdict, needed=True),
    Column("found", lambda unit: unit.reason.replace("-", " "), needed=True),
    Column("time s", lambda unit: f"{unit.seconds_on_bench:.1f}", right=True),
    Column("output at mm", _operate_side),
    Column("contacts s", lambda unit: _contacts(unit.contacts)),
)
