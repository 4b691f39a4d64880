"""`teachrig tally`: how many units came out good, why the others did not, and how long one takes."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace
from typing import Any

from rig.cli.asking import asked_store, nothing
from rig.cli.exits import Exit, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.listing import print_columns, print_rows, write_csv
from rig.finding.columns import REASONS, TALLY
from rig.finding.counted import Grouping, counted
from rig.finding.tally import Tally


def command(options: Namespace) -> int:
    """Count them."""
    with reader_may_leave():
        if options.columns:
            print_columns(TALLY, Page())
            Page().heading("reasons")
            print_columns(REASONS, Page())
            return Exit.DONE
        grouping = Grouping(options.each)
        with asked_store(options) as (connection, wanted):
            whole, groups = counted(connection, wanted, grouping)
        rows = [{"group": name, **groups[name].as_row()} for name in sorted(groups)]
        if options.csv is not None:
            write_csv(TALLY, rows, options)
        elif options.json:
            told = {"each": str(grouping), "groups": rows, "all": whole.as_row()}
            print_json({**told, "reasons": list(whole.reasons())})
        elif not nothing(rows):
            _print(rows, whole, grouping, Page())
    return Exit.DONE


def _print(rows: list[dict[str, Any]], whole: Tally, grouping: Grouping, page: Page) -> None:
    total = {"group": "all", **whole.as_row()}
    columns = [replace(TALLY[0], shown=str(grouping)), *TALLY[1:]]
    print_rows(columns, [*rows, total] if len(rows) > 1 else rows, page)
    reasons = list(whole.reasons())
    if reasons:
        page.heading("why units were not good")
        print_rows(REASONS, reasons, page)
