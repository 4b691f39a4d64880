"""A computer with better things to do: every core computes while the block runs."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

# Ends by itself when the benchmark is killed and cannot end it.
_BURN = """
import os
parent = os.getppid()
while os.getppid() == parent:
    for _ in range(100_000):
        pass
"""


@contextmanager
def busy_cores() -> Iterator[None]:
    """Burn every core with a process of its own."""
    burners = [subprocess.Popen([sys.executable, "-c", _BURN]) for _ in range(os.cpu_count() or 1)]
    try:
        yield
    finally:
        for burner in burners:
            burner.kill()
            burner.wait()
