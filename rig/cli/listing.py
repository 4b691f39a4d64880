"""Rows with known columns, for whoever reads them: a table on a terminal, JSON, or CSV."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from rich.cells import cell_len
from rich.text import Text

from rig.cli.exits import narrate
from rig.cli.layout import Page
from rig.cli.table import verdict_text
from rig.cli.writing import STANDARD_OUTPUT, write_lines
from rig.csvtext import csv_lines
from rig.events import Verdict
from rig.finding.columns import Column, Holds
from wiring.plainwords import printable

_GAP = 2
_LONGEST = 40
_NEEDED = 2

Row = Mapping[str, Any]


def print_columns(columns: Sequence[Column], page: Page) -> None:
    """What each column says."""
    page.pairs([(column.name, f"{column.words} ({column.holds})") for column in columns])


def write_csv(columns: Sequence[Column], rows: Iterable[Row], options: Namespace) -> None:
    """All rows as CSV, to standard output or into the file that was named."""
    names = [column.name for column in columns]
    lines = csv_lines(names, ([row[name] for name in names] for row in rows))
    if options.csv == STANDARD_OUTPUT:
        for line in lines:
            # As RFC 4180 has it, whatever the system ends its lines with.
            sys.stdout.write(line)
        return
    count = write_lines(Path(options.csv), lines, force=options.force)
    narrate(f"{count - 1} rows: {printable(options.csv)}")


def print_rows(columns: Sequence[Column], rows: Sequence[Row], page: Page) -> None:
    """A table with as many of the columns as there is room for, the first ones first."""
    shown = [one for one in columns if one.shown and any(_says(row[one.name]) for row in rows)]
    fitting = _fitting(shown, rows, page.width)
    names = [f">{one.shown}" if _right(one) else one.shown for one in fitting]
    page.table(names, [[cell(one, row) for one in fitting] for row in rows])


def cell(column: Column, row: Row) -> Text | str:
    """What a terminal shows of a value."""
    value = row[column.name]
    if value is None:
        return "-" if _right(column) else ""
    match column.holds:
        case Holds.FIGURE:
            return f"{value:.{column.decimals}f}"
        case Holds.FLAG:
            return "yes" if value else "no"
        case Holds.TIME:
            return time_words(value)
    words = printable(str(value), _LONGEST)
    if column.name in ("verdict", "by_hand") and words in set(Verdict):
        return verdict_text(Verdict(words))
    return words.replace("-", " ") if column.name == "reason" else words


def time_words(utc: str) -> str:
    """A recorded time to the minute."""
    return printable(utc[:16].replace("T", " "))


def _says(value: object) -> bool:
    return value is not None and value is not False and value != ""


def _right(column: Column) -> bool:
    return column.holds in (Holds.FIGURE, Holds.COUNT)


def _fitting(columns: Sequence[Column], rows: Sequence[Row], width: int) -> list[Column]:
    room, chosen = width + _GAP, set[int]()
    for index in sorted(range(len(columns)), key=lambda index: (not _first(index, columns, rows), index)):
        column = columns[index]
        taken = _GAP + max(cell_len(column.shown), *(cell_len(str(cell(column, row))) for row in rows))
        if index < _NEEDED or taken <= room:
            chosen.add(index)
            room -= taken
    return [columns[index] for index in sorted(chosen)]


def _first(index: int, columns: Sequence[Column], rows: Sequence[Row]) -> bool:
    """Whether a column is taken before the others."""
    column = columns[index]
    return index < _NEEDED or (column.tells_apart and len({row[column.name] for row in rows}) > 1)
