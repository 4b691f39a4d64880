"""Planning runs on the standard library: a small board shall not load numpy to place a target."""

from __future__ import annotations

import subprocess
import sys

import pytest

PLAIN = (
    "planning.absorption",
    "planning.air",
    "planning.beam",
    "planning.bench_position",
    "planning.echo",
    "planning.neighbours",
    "statistics.conformity",
    "statistics.edge_checks",
    "statistics.numeric",
    "statistics.uncertainty",
)


@pytest.mark.parametrize("heavy", ["numpy", "scipy", "pydantic", "textual"])
def test_nothing_heavy_is_loaded(heavy: str) -> None:
    program = (
        "; ".join(f"import rig.{name}" for name in PLAIN)
        + f"; import sys; sys.exit({heavy!r} in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False, timeout=60).returncode == 0
