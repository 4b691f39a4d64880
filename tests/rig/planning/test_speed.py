"""Planning is quick, and loads nothing heavy: it runs at every key press of a form, and on a small board."""

from __future__ import annotations

import subprocess
import sys
import time

from rig.planning.compile import make_plan
from tests.rig.planning.cases import NeedCase, needing, shipped

# Processor time on the smallest board is several times that of a desk machine.
MOST_S = 0.02


def processor_s(case: NeedCase, times: int) -> float:
    """The least time that one plan takes, of several: what else runs on the machine must not count."""
    order, sensor_type, rig = case.order, case.sensor_type, case.profile
    taken_s = []
    for _ in range(times):
        start_s = time.process_time()
        make_plan(order, sensor_type, rig)
        taken_s.append(time.process_time() - start_s)
    return min(taken_s)


def test_an_order_is_planned_in_less_than_twenty_milliseconds() -> None:
    for case in (
        shipped("cold-store-need"),
        shipped("filling-hall-need"),
        needing(need__foreground_mm=100.0),
    ):
        assert processor_s(case, 10) < MOST_S


def test_orders_that_all_differ_take_no_longer() -> None:
    # No figure can come from an earlier order: distances, air and object are new each time.
    taken_s = []
    for number in range(50):
        start_s = time.process_time()
        plan = needing(
            need__nearest_mm=150.0 + number,
            need__farthest_mm=400.0 + number / 3,
            need__background_mm=520.0 + number,
            need__air__coldest_c=number / 10,
            need__air__warmest_c=10 + number / 7,
            need__object__tilt_deg=1 + number / 100,
        ).plan
        taken_s.append(time.process_time() - start_s)
        assert plan.checks
    assert min(taken_s) < 2 * MOST_S


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
