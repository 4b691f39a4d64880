"""Planning one order, and reading one file of each kind, beside the bare reading of the same TOML."""

from __future__ import annotations

import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path

from hal.simulated.benchfile import find_bench_file, load_bench_file
from rig.library import Library
from rig.planning.compile import make_plan
from sequences.library import find_order, find_type, load_order, load_type
from tests.benchmarks.figure import Figure, Reference
from tests.rig.planning.cases import shipped
from wiring.profile import find_profile, load_profile

_ORDER = "tipper-point-no"
_NEEDS = ("cold-store-need", "filling-hall-need")
_GOAL_MS = 20.0  # at every key press of a form, and on a small board
_FILES: dict[str, tuple[Path, Callable[[Path], object]]] = {
    "order": (find_order(_ORDER), load_order),
    "sensor type": (find_type("barrel-18-rail"), load_type),
    "rig profile": (find_profile("simulated"), load_profile),
    "simulated bench": (find_bench_file("demo"), load_bench_file),
}


def measure(*, quick: bool) -> Iterator[Figure]:
    """Measure plan and files."""
    repeats = 1 if quick else 50
    order, sensor_type = Library(None).read_order(_ORDER)
    profile = Library(None).read_rig("simulated")
    plan_ms = _best_ms(repeats, lambda: make_plan(order, sensor_type, profile))
    yield Figure(f"planning {_ORDER}", plan_ms, "ms", _bare(repeats, "order"), goal=_GOAL_MS)
    for name in _NEEDS:
        need_ms = _best_ms(repeats, lambda: shipped(name).plan)  # noqa: B023  # called here
        yield Figure(f"planning {name}, from a need", need_ms, "ms", _bare(repeats, "order"), goal=_GOAL_MS)
    for kind, (path, load) in _FILES.items():
        read_ms = _best_ms(repeats, lambda: load(path))  # noqa: B023  # called here
        yield Figure(f"reading {kind} {path.name}", read_ms, "ms", _bare(repeats, kind))


def _bare(repeats: int, kind: str) -> Reference:
    path, _ = _FILES[kind]
    return Reference(
        f"tomllib on {path.name}", _best_ms(repeats, lambda: tomllib.loads(path.read_text("utf-8")))
    )


def _best_ms(repeats: int, action: Callable[[], object]) -> float:
    return min(_processor_ms(action) for _ in range(repeats))


def _processor_ms(action: Callable[[], object]) -> float:
    start_s = time.thread_time()
    action()
    return (time.thread_time() - start_s) * 1000
