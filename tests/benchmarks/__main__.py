"""`python -m tests.benchmarks`: measure, print one table, write JSON on request."""

from __future__ import annotations

import argparse
import json
import os
import platform
from collections.abc import Callable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table

from tests.benchmarks.figure import Figure

BENCHMARKS = {
    "units": "processor time of a unit on the jumping clock, and memory",
    "contacts": "error of the length of a contact, in real time",
    "startup": "what it costs to start a command",
    "trips": "how fast everything is off, and how steady the heartbeat is",
    "planning": "planning one order, reading one file of each kind",
}

Measure = Callable[..., Iterator[Figure]]


def main(arguments: list[str] | None = None) -> int:
    """Measure what was asked for."""
    options = _options(arguments)
    before = _machine()
    figures: dict[str, list[Figure]] = {}
    for name in options.only or BENCHMARKS:
        measure: Measure = import_module(f"tests.benchmarks.{name}").measure
        figures[name] = list(measure(quick=options.quick))
    found = {
        "machine": before,
        "load_after": os.getloadavg(),
        "quick": options.quick,
        "figures": {name: [figure.as_dict() for figure in group] for name, group in figures.items()},
    }
    if options.json:
        options.json.write_text(json.dumps(found, indent=2) + "\n", encoding="utf-8")
    _print(figures, before)
    return 0


def _options(arguments: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument(
        "--only", action="append", choices=BENCHMARKS, help="measure only this; may be given again"
    )
    parser.add_argument(
        "--quick", action="store_true", help="only try that it runs; the figures mean nothing"
    )
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures as JSON too")
    return parser.parse_args(arguments)


def _machine() -> dict[str, Any]:
    return {
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        "cores": os.cpu_count(),
        "load_before": os.getloadavg(),
    }


def _print(figures: dict[str, list[Figure]], machine: dict[str, Any]) -> None:
    table = Table("figure", "value", "reference", "value", "ratio", "goal", "", "note", pad_edge=False)
    for group in figures.values():
        for figure in group:
            table.add_row(*_cells(figure))
        table.add_section()
    console = Console(width=180, highlight=False, markup=False)
    console.print(
        f"Python {machine['python']}, {machine['system']}, {machine['cores']} cores, load "
        + " ".join(f"{load:.1f}" for load in machine["load_before"])
    )
    console.print(table)


def _cells(figure: Figure) -> tuple[str, ...]:
    verdict = {True: "met", False: "NOT MET", None: ""}[figure.met]
    return (
        figure.name,
        f"{figure.value:.4g} {figure.unit}",
        figure.reference.name,
        f"{figure.reference.value:.4g} {figure.unit}",
        f"{figure.ratio:.3g}",
        figure.goal_words,
        verdict,
        figure.note,
    )


if __name__ == "__main__":
    raise SystemExit(main())
