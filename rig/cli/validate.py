"""`teachrig validate`: are these data files right?"""

from __future__ import annotations

import tomllib
from argparse import Namespace
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hal.simulated.benchfile import BenchFile, load_bench_file
from hal.simulated.kind import UnitKind, load_kind
from rig.cli.exits import Exit, narrate
from rig.cli.json_text import print_json
from rig.papers.label_template import LabelTemplate, load_label
from rig.risk.rates import Rates, load_rates
from sequences.library import load_order, load_receiving, load_type
from sequences.order import Order
from sequences.receiving import ReceivingPlan
from sequences.sensor_type import SensorType
from wiring.filetext import text_of
from wiring.plainwords import printable
from wiring.profile import RigProfile, load_profile
from wiring.tomlfile import DataFileError, DataModel, Problem

_KINDS: dict[str, tuple[type[DataModel], Callable[[Path], DataModel]]] = {
    "order": (Order, load_order),
    "sensor type": (SensorType, load_type),
    "rig profile": (RigProfile, load_profile),
    "simulated bench": (BenchFile, load_bench_file),
    "kind of simulated unit": (UnitKind, load_kind),
    "label template": (LabelTemplate, load_label),
    "table of rates": (Rates, load_rates),
    "receiving plan": (ReceivingPlan, load_receiving),
}


def command(options: Namespace) -> int:
    """Check every file; exit 2 if any has a problem."""
    reports = [_check(path) for path in options.files]
    if options.json:
        print_json(reports)
    else:
        for report in reports:
            _tell(report)
    return Exit.BAD_INPUT if any(report["problems"] for report in reports) else Exit.DONE


def _check(path: Path) -> dict[str, Any]:
    kind = "data file"
    try:
        kind = _kind_of(text_of(path, printable(str(path)), kind))
        _KINDS[kind][1](path)
    except DataFileError as found:
        return {"file": str(path), "kind": kind, "problems": [_as_dict(one) for one in found.problems]}
    return {"file": str(path), "kind": kind, "problems": []}


def _kind_of(text: str) -> str:
    """The kind of file that knows the largest share of its top-level keys; an order where nothing tells.

    Of two that know as many, the one whose own keys are there the more.
    """
    try:
        keys = tomllib.loads(text).keys()
    except (ValueError, RecursionError):  # what is wrong is told by whoever reads it in earnest
        keys = {}.keys()

    def shares(kind: str) -> tuple[int, float]:
        known = _KINDS[kind][0].model_fields.keys()
        return len(keys & known), len(keys & known) / len(known)

    return max(_KINDS, key=shares)


def _as_dict(problem: Problem) -> dict[str, Any]:
    names = ("line", "key", "message", "given", "allowed")
    return {name: getattr(problem, name) for name in names} | {"text": str(problem)}


def _tell(report: dict[str, Any]) -> None:
    for problem in report["problems"]:
        narrate(problem["text"])
    if not report["problems"]:
        print(f"{report['file']}: right, {_with_article(report['kind'])}")


def _with_article(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"
