"""Measure how fast, punctual and lean the program is; every figure stands beside a reference of the same run."""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from tests.benchmarks.figure import Figure, number

BENCHMARKS = {
    "units": "processor time of a unit on the jumping clock, and memory",
    "contacts": "error of the length of a contact, in real time",
    "startup": "what it costs to start a command",
    "trips": "how fast everything is off, and how steady the heartbeat is",
    "planning": "planning one order, reading one file of each kind",
    "sampling": "designing a sampling plan",
    "papers": "the report on an order of 1,000 units, and a certificate",
    "store": "keeping an event, finding a unit, size on the disk",
    "finding": "a page of units, whatever is asked for, and counts",
    "screen": "the bench screen: first frame, memory, bytes, and an engine that does not feel it",
}

Measure = Callable[..., Iterator[Figure]]

_VERDICTS = {True: "met", False: "NOT MET", None: ""}


def main(arguments: list[str] | None = None) -> int:
    """Measure what was asked for, print one table."""
    options = _options(arguments)
    machine = _machine()
    figures = {name: _measured(name, quick=options.quick) for name in options.only or BENCHMARKS}
    machine["load_after"] = os.getloadavg()[0]
    if options.json:
        options.json.write_text(_as_json(machine, figures, quick=options.quick), encoding="utf-8")
    _print(machine, figures, quick=options.quick)
    return 0


def _options(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks",
        description=__doc__,
        epilog="; ".join(f"{name}: {words}" for name, words in BENCHMARKS.items()),
    )
    parser.add_argument("--only", action="append", choices=BENCHMARKS, help="one group; may be given again")
    parser.add_argument(
        "--quick", action="store_true", help="only try that it runs; the figures mean nothing"
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures as JSON too")
    return parser.parse_args(arguments)


def _measured(name: str, *, quick: bool) -> list[Figure]:
    print(f"measuring {name}: {BENCHMARKS[name]} ...", file=sys.stderr, flush=True)
    measure: Measure = import_module(f"tests.benchmarks.{name}").measure
    return list(measure(quick=quick))


def _machine() -> dict[str, Any]:
    return {
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        "cores": os.cpu_count(),
        "load_before": os.getloadavg()[0],
    }


def _as_json(machine: dict[str, Any], figures: dict[str, list[Figure]], *, quick: bool) -> str:
    groups = {name: [figure.as_dict() for figure in group] for name, group in figures.items()}
    return json.dumps({"machine": machine, "quick": quick, "figures": groups}, indent=2) + "\n"


def _print(machine: dict[str, Any], figures: dict[str, list[Figure]], *, quick: bool) -> None:
    console = Console(width=160, highlight=False, markup=False)
    console.print(
        "Python {python}, {system}, {cores} cores, load {load_before:.1f} before and {load_after:.1f} after".format_map(
            machine
        )
    )
    if quick:
        console.print("QUICK: the figures mean nothing")
    table = Table("figure", "value", "reference", "ratio", "goal", "note", pad_edge=False)
    for group in figures.values():
        for figure in group:
            table.add_row(*_cells(figure))
        table.add_section()
    console.print(table)


def _cells(figure: Figure) -> tuple[str, ...]:
    reference = figure.reference
    return (
        figure.name,
        f"{number(figure.value)} {figure.unit}",
        f"{reference.name}: {number(reference.value)} {figure.unit}",
        number(figure.ratio),
        f"{figure.goal_words} {_VERDICTS[figure.met]}".strip(),
        figure.note,
    )


if __name__ == "__main__":
    raise SystemExit(main())
