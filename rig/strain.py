"""What becomes of the computer while it works a bench: too hot, short of memory, its clock set. Looked at, and told.

Nothing here decides anything: lengths come from a clock that nobody sets, contacts that a slow processor makes too
long are refused where they are read back, and what a kernel short of memory kills, the watcher switches off.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rig.events import ComputerStrained, Strain

EVERY_S = 5.0
WARM_C, HOT_C = 70.0, 80.0
"""Small boards slow their processor down from 80 degrees C (common practice, no source)."""

LEAST_MEMORY_MB = 100
"""With less, the kernel may soon end a program: ours takes 120 MB with its screen (own measurement)."""
_ENOUGH_AGAIN_MB = 2 * LEAST_MEMORY_MB
# A clock that is only corrected while it runs keeps within half a millisecond a second (adjtimex(2), from memory).
_SET_S = 1.0


@dataclass(frozen=True, slots=True)
class Look:
    """The computer at one moment; None is what cannot be read.

    Attributes:
        wall_s: the clock on the wall.
        steady_s: the clock that nobody sets.

    """

    hottest_c: float | None
    free_mb: int | None
    wall_s: float
    steady_s: float


class Strains:
    """Tells each strain when it begins, and once only until it has clearly ended."""

    def __init__(self) -> None:
        self._told: set[Strain] = set()
        self._before: Look | None = None

    def found(self, now: Look) -> Iterator[ComputerStrained]:
        """What has to be told after one more look."""
        if now.hottest_c is not None and self._begins(
            Strain.HOT, now.hottest_c >= HOT_C, ended=now.hottest_c < WARM_C
        ):
            yield ComputerStrained(Strain.HOT, now.hottest_c)
        if now.free_mb is not None and self._begins(
            Strain.MEMORY, now.free_mb < LEAST_MEMORY_MB, ended=now.free_mb >= _ENOUGH_AGAIN_MB
        ):
            yield ComputerStrained(Strain.MEMORY, now.free_mb)
        before, self._before = self._before, now
        if before is not None:
            set_by_s = (now.wall_s - now.steady_s) - (before.wall_s - before.steady_s)
            if abs(set_by_s) > _SET_S:
                yield ComputerStrained(Strain.CLOCK, round(set_by_s, 1))

    def _begins(self, strain: Strain, there: bool, *, ended: bool) -> bool:
        begins = there and strain not in self._told
        if begins:
            self._told.add(strain)
        elif ended:
            self._told.discard(strain)
        return begins


def look_now() -> Look:
    """The computer as it is."""
    root = Path("/")
    return Look(hottest_c(root), free_mb(root), time.time(), time.monotonic())


@contextmanager
def watched_computer(tell: Callable[[ComputerStrained], object], every_s: float = EVERY_S) -> Iterator[None]:
    """Look again and again from a thread of its own while the block runs; `tell` is called in that thread."""
    ended, strains = threading.Event(), Strains()

    def watch() -> None:
        while not ended.is_set():
            for one in strains.found(look_now()):
                tell(one)
            ended.wait(every_s)

    thread = threading.Thread(target=watch, name="computer", daemon=True)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join()


def free_mb(root: Path) -> int | None:
    """How much memory programs can still have, in MB; None where the kernel does not say."""
    for line in _text(root / "proc/meminfo").splitlines():
        if line.startswith("MemAvailable:"):
            return int(line.split()[1]) // 1000
    return None


def hottest_c(root: Path) -> float | None:
    """How hot the hottest place is that the kernel measures, in degrees C; None where it measures none."""
    readings = (_text(path).strip() for path in sorted(root.glob("sys/class/thermal/thermal_zone*/temp")))
    return max((int(text) / 1000 for text in readings if text.lstrip("-").isdigit()), default=None)


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii", errors="replace")
    except OSError:
        return ""
