"""Planning lives on no earlier figures and loads nothing heavy; its speed is measured in `tests/benchmarks`."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterable
from itertools import repeat

from tests.rig.planning.cases import NeedCase, needing


def differing(number: int) -> NeedCase:
    """No figure can come from an earlier order: distances, air and object are new each time."""
    return needing(
        need__nearest_mm=150.0 + number,
        need__farthest_mm=400.0 + number / 3,
        need__background_mm=520.0 + number,
        need__air__coldest_c=number / 10,
        need__air__warmest_c=10 + number / 7,
        need__object__tilt_deg=1 + number / 100,
    )


def least_s(cases: Iterable[NeedCase]) -> float:
    """The least processor time that a plan takes, of several: what else runs on the machine must not count."""
    taken_s = []
    for case in cases:
        start_s = time.process_time()
        assert case.plan.checks
        taken_s.append(time.process_time() - start_s)
    return min(taken_s)


def test_orders_that_all_differ_take_no_longer_than_the_same_one_again() -> None:
    assert least_s(map(differing, range(30))) < 3 * least_s(repeat(differing(7), 30))


_PLAN = """
import sys
from sequences.library import *
from wiring.profile import *
from rig.planning.compile import make_plan
path = shipped_orders()["cold-store-need"]
order = load_order(path)
make_plan(order, load_type(find_type(order.sensor_type, order=path)), load_profile(find_profile("simulated")))
print(*sorted(sys.modules))
"""


def test_planning_loads_no_mathematics_library_no_hardware_and_no_screen() -> None:
    shown = subprocess.run([sys.executable, "-c", _PLAN], capture_output=True, text=True, check=True).stdout
    loaded = {name.partition(".")[0] for name in shown.split()}
    assert "pydantic" in loaded
    assert not loaded & {
        "numpy",
        "scipy",
        "gpiozero",
        "serial",
        "textual",
        "rich",
        "sqlite3",
        "hal",
        "asyncio",
    }
