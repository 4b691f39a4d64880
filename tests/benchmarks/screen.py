"""What the bench screen costs, and that the engine does not feel it."""

from __future__ import annotations

import asyncio
import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from rig.events import ContactEnded
from rig.library import Library
from rig.screen.record import recorded
from rig.screen.setup import Bench
from rig.screen.view.board import Phase
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.session import JOURNAL_NAME
from tests.benchmarks.figure import Figure, Reference, quantile
from tests.rig.screen.shop import bench_at, order_text
from tests.rig.screen.terminal import Terminal

FIRST_FRAME_S, RESIDENT_MB, IDLE_PERCENT, BYTES_PER_S = 1.2, 120.0, 5.0, 40_000.0
_COUNTED = "tray-point-nc"
"""An order whose contacts are all timed: seven of 0.3 s a unit."""
_BLOCKED_S = 1.0
_TICKS = os.sysconf("SC_CLK_TCK")


def measure(*, quick: bool) -> Iterator[Figure]:
    """In a terminal, in memory, and beside a thread of the screen that is stuck."""
    with tempfile.TemporaryDirectory() as folder:
        yield from _in_a_terminal(Path(folder), watch_s=2.0 if quick else 10.0)
    yield from _in_memory(units=4 if quick else 200, more=4 if quick else 10_000)
    yield from _stuck(units=1 if quick else 4)


# -- in a terminal


def _in_a_terminal(home: Path, *, watch_s: float) -> Iterator[Figure]:
    (home / "orders").mkdir()
    (home / "orders" / "QOC-0190.toml").write_text(order_text(2), encoding="utf-8")
    nothing = Reference("python -c 'import textual.app'", _seconds_of("import textual.app"))
    where = {"TEACHRIG_HOME": str(home), "TEACHRIG_DATA": str(home)}
    terminal = Terminal("QOC-0190", "--by", "Maren Holt", environment=where)
    terminal.shows("F12")
    yield Figure("first frame", _spent_s(terminal.pid), "s", nothing, goal=FIRST_FRAME_S)
    terminal.read(2.0)
    before_s = _spent_s(terminal.pid)
    silent = terminal.read(watch_s)
    idle = 100 * (_spent_s(terminal.pid) - before_s) / watch_s
    whole = Reference("one core", 100.0)
    yield Figure(
        "waiting for the first unit", idle, "%", whole, goal=IDLE_PERCENT, note=f"{silent} bytes sent"
    )
    terminal.send(b"41\r")
    terminal.shows("Put unit QOC18-0041")
    terminal.read(1.0)
    before_s, silent = _spent_s(terminal.pid), terminal.read(watch_s)
    idle = 100 * (_spent_s(terminal.pid) - before_s) / watch_s
    yield Figure(
        "waiting with an open bench", idle, "%", whole, goal=IDLE_PERCENT, note=f"{silent} bytes sent"
    )
    terminal.send(b"\r")
    seconds = [terminal.read(1.0) for _ in range(18)]
    line = Reference("a whole screen of 80 by 24", 80.0 * 24)
    yield Figure("most sent in one second while working", max(seconds), "B", line, goal=BYTES_PER_S)
    mean = sum(seconds) / len(seconds)
    yield Figure("sent in a second while working", mean, "B", line, goal=BYTES_PER_S)
    terminal.tear_away()
    terminal.ended()


def _spent_s(pid: int) -> float:
    """Processor time of a process so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / _TICKS


def _seconds_of(program: str) -> float:
    code = f"{program}; import resource; print(resource.getrusage(resource.RUSAGE_SELF).ru_utime)"
    return float(
        subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True).stdout
    )


# -- in memory


def _in_memory(*, units: int, more: int) -> Iterator[Figure]:
    done = subprocess.run(
        [sys.executable, "-c", f"from tests.benchmarks.screen import shift; shift({units}, {more})"],
        check=True,
        capture_output=True,
        text=True,
    )
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    begin = Reference("the first screen", found["begin_mb"])
    yield Figure(f"resident after {units} units", found["after_mb"], "MB", begin, goal=RESIDENT_MB)
    after = Reference(f"resident after {units} units", found["after_mb"])
    yield Figure(
        f"resident after {more} units more on the jumping clock",
        found["more_mb"],
        "MB",
        after,
        goal_ratio=1.1,
    )


def shift(units: int, more: int) -> None:
    """Do units in the real application on the jumping clock, and tell how much memory it took."""

    async def main() -> None:
        from rig.screen.app import BenchApp
        from rig.screen.looks import DARK

        with tempfile.TemporaryDirectory() as folder:
            home = Path(folder)
            (home / "orders").mkdir()
            path = home / "orders" / "QOC-0190.toml"
            text = order_text(min(units + more, 10_000)).replace("digits = 4", "digits = 6")
            path.write_text(text, encoding="utf-8")
            where = bench_at(home)
            app = BenchApp(Words("en"), DARK, where)
            app.first = work = OrderWork(where.order(str(path)), Words("en"))
            async with app.run_test(size=(120, 40)) as pilot:
                await pilot.pause(0.5)
                found = {"begin_mb": _resident_mb()}
                await _units(work, pilot.pause, units)
                found["after_mb"] = _resident_mb()
                await _units(work, pilot.pause, more)
                found["more_mb"] = _resident_mb()
                app.end_work("measured")
        print(json.dumps(found))

    asyncio.run(main())


async def _units(work: OrderWork, pause: Callable[[float], Any], count: int) -> None:
    """Unit after unit, while the screen paints at its own pace."""
    for serial in work.board.standing.open_serials[:count]:
        while not work.board.phase.takes_serial:
            await asyncio.sleep(0.001)
            work.pump()
        work.enter(serial)
        while work.board.phase is not Phase.TAKE_OUT:
            await asyncio.sleep(0.001)
            work.pump()
            if work.board.phase is Phase.FIT:
                work.enter("")
        work.enter("")
    await pause(0.3)


def _resident_mb() -> float:
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


# -- a stuck screen


def _stuck(*, units: int) -> Iterator[Figure]:
    """Contacts and stops beside a thread that reads keys and paints: free, blocked, and computing for ever."""
    free = Reference("without a screen", max(1e-6, _worst_ms(units, screen=False)))
    what = "timed contact, farthest off"
    yield Figure(f"{what}, screen painting", _worst_ms(units), "ms", free)
    for words, note, stuck in _WAYS:
        yield Figure(f"{what}, screen {words}", _worst_ms(units, stuck=stuck), "ms", free, note=note)
    stops = 1 if units == 1 else 9
    alone_ms = _trips_ms(stops, lambda _: None)
    for words, note, stuck in _WAYS:
        found_ms = _trips_ms(stops, stuck)
        for name, share in (("median", 0.5), ("longest", 1.0)):
            alone = Reference("without a screen", quantile(alone_ms, share))
            yield Figure(
                f"stop, screen {words}: {name}",
                quantile(found_ms, share),
                "ms",
                alone,
                note=f"{stops} stops; {note}",
            )


def _worst_ms(units: int, *, stuck: Callable[[float], None] | None = None, screen: bool = True) -> float:
    """How far the longest-off contact is from the middle one: what all share is the relays' own."""
    with tempfile.TemporaryDirectory() as folder:
        work = _counted(Path(folder))
        for serial in work.board.standing.open_serials[:units]:
            _one_unit(work, serial, stuck=stuck, screen=screen)
        work.leave("measured")
        ended = [one.event for one in recorded(work.setup.journal, (ContactEnded,))]
    lengths = [one.length_s * 1000 for one in ended if isinstance(one, ContactEnded)]
    middle = quantile(lengths, 0.5)
    return max(abs(length - middle) for length in lengths)


def _one_unit(work: OrderWork, serial: str, *, stuck: Callable[[float], None] | None, screen: bool) -> None:
    said = False
    while work.board.phase is not Phase.TAKE_OUT:
        if work.board.phase in (Phase.TRIPPED, Phase.FAILED):
            why = work.board.cause or work.board.failure
            raise RuntimeError(f"the work ended: {why}; measure on a quiet machine")
        if work.board.phase.takes_serial and not said:
            work.enter(serial)
            said = True
        if work.board.phase is Phase.FIT:
            work.enter("")
        if stuck is not None and work.board.phase is Phase.WORK:
            stuck(_BLOCKED_S)
        if screen:
            work.ask_state()
        work.pump()
        time.sleep(0.05)
    work.enter("")
    while not (work.board.phase.takes_serial or work.board.phase is Phase.ENDED):
        work.pump()
        time.sleep(0.01)


def _trips_ms(stops: int, stuck: Callable[[float], None]) -> list[float]:
    """How long a stop in a thread of its own takes, as a GPIO library would bring it, while a unit is in work."""
    times_ms: list[float] = []

    def stop(work: OrderWork) -> None:
        time.sleep(0.3)
        begin_s = time.perf_counter()
        work.stop()
        times_ms.append((time.perf_counter() - begin_s) * 1000)

    with tempfile.TemporaryDirectory() as folder:
        work = _counted(Path(folder))
        work.enter(work.board.standing.open_serials[0])
        for _ in range(stops):
            _until(work, Phase.FIT)
            work.enter("")
            _until(work, Phase.WORK)
            thread = threading.Thread(target=stop, args=(work,))
            thread.start()
            stuck(_BLOCKED_S)
            thread.join()
            _until(work, Phase.TRIPPED)
            work.reset()
        work.leave("measured")
    return times_ms


def _until(work: OrderWork, phase: Phase) -> None:
    while work.board.phase is not phase:
        work.pump()
        if phase is not Phase.TRIPPED and work.board.phase is Phase.TRIPPED:
            work.reset()  # a computer that is held up: the unit begins again
        time.sleep(0.01)


def _compute(seconds: float) -> None:
    """Keep the interpreter busy, as a screen that hangs does."""
    end_s = time.monotonic() + seconds
    while time.monotonic() < end_s:
        sum(range(1000))


def _counted(home: Path) -> OrderWork:
    library = Library(home)
    bench = Bench(library, library.read_rig("simulated"), "sound", home / JOURNAL_NAME, quickest_s=0.0)
    return OrderWork(bench.order(_COUNTED), Words("en"))


_WAYS = (
    (
        "blocked",
        f"the screen's thread waits for {_BLOCKED_S:g} s at a time, as for a line that takes nothing",
        time.sleep,
    ),
    ("computing", f"the screen's thread computes for {_BLOCKED_S:g} s at a time", _compute),
)
