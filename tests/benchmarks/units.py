"""Units taught and checked on the jumping clock: processor time, with and without the journal, and memory."""

from __future__ import annotations

import asyncio
import os
import selectors
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from rig.chronicle import Watcher
from rig.events import Stamped, UnitJudged, Verdict
from rig.jobs import job_of
from rig.library import Library
from rig.planning.compile import make_plan
from rig.session import Session
from tests.benchmarks.figure import Figure, Reference

ORDERS = {
    "tipper-point-no": "by rail and order",
    "store-window-no": "by length",
    "tray-point-nc": "by number",
}
"""Shipped orders, one of each teach method."""

GOAL_MS = 5.0  # 200 units a second on one core
GOAL_GROWTH = 0.1
_MB = 2**20


def measure(*, quick: bool) -> Iterator[Figure]:
    """Measure the processor time of a unit, and how memory grows."""
    repeats, units, wake_ups = (1, 2, 1_000) if quick else (5, 100, 50_000)
    wake_up = Reference("wake-up of a plain jumping loop", best(repeats, lambda: _wake_up_ms(wake_ups)))
    with tempfile.TemporaryDirectory() as folder:
        for order, method in ORDERS.items():
            file = Path(folder) / f"{order}.sqlite3"
            for journal, scanned in ((None, True), (file, True), (None, False)):
                ms = best(repeats, lambda: _unit_ms(order, units, journal, scanned))  # noqa: B023  # called here
                kept = f"{'with' if journal else 'no'} journal{'' if scanned else ', scan_readings = 0'}"
                note = f"{1000 / ms:.0f} units/s of processor time"
                name = f"unit of {order} (taught {method}), {kept}"
                yield Figure(name, ms, "ms", wake_up, goal=GOAL_MS, note=note)
    yield _memory(*((2, 2) if quick else (200, 2_000)))


def best(repeats: int, once: Callable[[], float]) -> float:
    """The least of several measurements: what disturbs only ever adds."""
    return min(once() for _ in range(repeats))


def run_order(
    name: str, units: int, journal: Path | None, watch: Watcher = lambda _: None, *, scanned: bool = True
) -> None:
    """Run a shipped order on sound units, in jumping time; every one must be found good.

    Not `scanned`: the output is read at the check positions, but not on the way out through the tolerance.
    """
    library = Library(None)
    order, sensor_type = library.read_order(name)
    if not scanned:
        order = order.model_copy(update={"checks": order.checks.model_copy(update={"scan_readings": 0})})
    serials = tuple(f"B-{number:05}" for number in range(units))
    order = order.model_copy(update={"quantity": units, "serials": serials, "serial_run": None})
    profile = library.read_rig("simulated")
    plan = make_plan(order, sensor_type, profile)
    bench_file = library.read_bench("sound").as_ordered(sensor_type.name, order.setting.output_type)
    result = (
        Session(job_of(order, sensor_type, profile, plan), profile, bench_file, False, journal)
        .start(watch)
        .result()
    )
    assert result.count(Verdict.GOOD) == units, f"{name}: not every sound unit was found good: {result}"


def growth_mb(before: int, units: int) -> tuple[float, float]:
    """Resident megabytes after `before` units, and what `units` more add to them."""
    resident: list[float] = []

    def watch(stamped: Stamped) -> None:
        if isinstance(stamped.event, UnitJudged):
            resident.append(_resident_mb())

    run_order("tipper-point-no", before + units, None, watch)
    return resident[before - 1], resident[-1] - resident[before - 1]


def _unit_ms(order: str, units: int, journal: Path | None, scanned: bool) -> float:
    start_s = time.process_time()
    run_order(order, units, journal, scanned=scanned)
    return (time.process_time() - start_s) / units * 1000


def _memory(before: int, units: int) -> Figure:
    words = f"from tests.benchmarks.units import growth_mb; print(*growth_mb({before}, {units}))"
    answer = subprocess.run([sys.executable, "-c", words], check=True, capture_output=True, text=True)
    resident_mb, grown_mb = map(float, answer.stdout.split())
    return Figure(
        f"memory that {units} more units take",
        grown_mb,
        "MB",
        Reference(f"resident after {before} units", resident_mb),
        goal_ratio=GOAL_GROWTH,
        note=f"{grown_mb / units * 1024:.2f} kB/unit",
    )


def _resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / _MB


class _PlainJumps(selectors.DefaultSelector):
    """The least that makes a loop jump; independent of our own loop, so that it stays a yardstick."""

    now_s = 0.0

    def select(self, timeout: float | None = None) -> list[tuple[selectors.SelectorKey, int]]:
        self.now_s += timeout or 0.0
        return []


def _wake_up_ms(count: int) -> float:
    async def wake() -> None:
        for _ in range(count):
            await asyncio.sleep(1.0)

    selector = _PlainJumps()
    loop = asyncio.SelectorEventLoop(selector)
    _set_clock(loop, lambda: selector.now_s)
    start_s = time.process_time()
    try:
        loop.run_until_complete(wake())
    finally:
        loop.close()
    return (time.process_time() - start_s) / count * 1000


def _set_clock(loop: Any, clock: Callable[[], float]) -> None:
    loop.time = clock
