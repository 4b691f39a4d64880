"""`teachrig validate`: are these data files right?"""

from __future__ import annotations

import json
import tomllib
from argparse import Namespace
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hal.simulated.benchfile import BenchFile, load_bench_file
from rig.cli.exits import Exit, narrate
from sequences.library import load_order, load_type
from sequences.order import Order
from sequences.sensor_type import SensorType
from wiring.profile import RigProfile, load_profile
from wiring.tomlfile import DataFileError, DataModel, Problem

_KINDS: dict[str, tuple[type[DataModel], Callable[[Path], DataModel]]] = {
    "order": (Order, load_order),
    "sensor type": (SensorType, load_type),
    "rig profile": (RigProfile, load_profile),
    "simulated bench": (BenchFile, load_bench_file),
}


def command(options: Namespace) -> int:
    """Check every file; exit 2 if any has a problem."""
    reports = [_check(path) for path in options.files]
    if options.json:
        print(json.dumps(reports, indent=2, ensure_ascii=False))
    else:
        for report in reports:
            _tell(report)
    return Exit.BAD_INPUT if any(report["problems"] for report in reports) else Exit.DONE


def _check(path: Path) -> dict[str, Any]:
    kind = _kind_of(path)
    try:
        _KINDS[kind][1](path)
    except DataFileError as found:
        return {"file": str(path), "kind": kind, "problems": [_as_dict(one) for one in found.problems]}
    return {"file": str(path), "kind": kind, "problems": []}


def _kind_of(path: Path) -> str:
    """The kind of file whose top-level keys it has most of; an order where nothing tells."""
    try:
        keys = tomllib.loads(path.read_text(encoding="utf-8-sig")).keys() if path.is_file() else set()
    except (OSError, ValueError):
        keys = set()
    return max(_KINDS, key=lambda kind: len(keys & _KINDS[kind][0].model_fields.keys()))


def _as_dict(problem: Problem) -> dict[str, Any]:
    names = ("line", "key", "message", "given", "allowed")
    return {name: getattr(problem, name) for name in names} | {"text": str(problem)}


def _tell(report: dict[str, Any]) -> None:
    for problem in report["problems"]:
        narrate(problem["text"])
    if not report["problems"]:
        print(f"{report['file']}: right, a {report['kind']}")
