"""A panel shop for the tests of the screen: the real application on a simulated bench, driven by keys alone."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from textual.events import Key
from textual.keys import _character_to_key
from textual.pilot import Pilot

from rig.events import Stamped, UnitJudged, UnitRemoved, UnitStarted
from rig.journal import read_journal
from rig.library import Library
from rig.screen.app import BenchApp
from rig.screen.looks import DARK, Look
from rig.screen.setup import Bench
from rig.screen.view.board import Phase
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.session import JOURNAL_NAME
from tests.patient import PatientLibrary

_T = TypeVar("_T")
SIZES = {"small": (80, 24), "usual": (120, 40), "far": (200, 60)}
PATIENCE_S = 60.0

BENCH = """
title = "test"
{more}
"""


@dataclass
class Shop:
    """The application, the keys, and what it shows.

    Attributes:
        journal: where the record is.

    """

    app: BenchApp
    pilot: Pilot[int]
    journal: Path
    seen: list[Phase] = field(default_factory=list)

    @property
    def work(self) -> OrderWork:
        assert self.app.work is not None
        return self.app.work

    @property
    def phase(self) -> Phase:
        return self.work.board.phase

    @property
    def rows(self) -> list[str]:
        """What the terminal shows."""
        strips = self.app.screen._compositor.render_strips()
        return ["".join(segment.text for segment in strip).rstrip() for strip in strips]

    @property
    def text(self) -> str:
        return "\n".join(self.rows)

    async def at_once(self, *keys: str) -> None:
        """Keys in one burst, and what comes of them: much quicker than one by one."""
        for one in keys:
            self.app.post_message(Key(one, None))
        await self.pilot.pause()

    async def keys(self, *keys: str) -> None:
        await self.pilot.press(*keys)

    async def scan(self, text: str, *, enters: int = 1) -> None:
        """What a scanner types: all in one burst, with Enter behind it."""
        for one in text:
            self.app.post_message(Key(_character_to_key(one), one))
        for _ in range(enters):
            self.app.post_message(Key("enter", "\r"))
        await self.pilot.pause()

    async def find_command(self, text: str) -> None:
        """Find a command among all of them by some of its words, and take it."""
        await self.keys("f6")
        await self.scan(text)
        await self.shows("once more")
        await self.pilot.pause(0.35)
        await self.keys("enter")

    async def until(self, wanted: Callable[[], object], what: str = "") -> None:
        """Wait until something is so; never for a time."""
        end_s = asyncio.get_running_loop().time() + PATIENCE_S
        while not wanted():
            assert asyncio.get_running_loop().time() < end_s, f"never came: {what}\n{self.text}"
            await self.pilot.pause(0.02)

    async def phase_is(self, *phases: Phase) -> None:
        await self.until(lambda: self.phase in phases, f"{phases}, but {self.phase}")

    async def shows(self, text: str) -> None:
        await self.until(lambda: text in self.text, text)

    async def unit(self, text: str) -> None:
        """Scan a unit, put it in, wait for its verdict."""
        await self.phase_is(Phase.READY, Phase.SCAN)
        await self.scan(text)
        await self.phase_is(Phase.FIT)
        await self.keys("enter")
        await self.phase_is(Phase.TAKE_OUT)

    async def twice(self, key: str) -> None:
        """The two steps of what may energise something."""
        await self.keys(key)
        await self.shows("once more")
        await self.pilot.pause(0.35)
        await self.keys(key)

    def recorded(self, *kinds: type) -> list[Stamped]:
        return [one for one in read_journal(self.journal) if isinstance(one.event, kinds or (object,))]

    @property
    def verdicts(self) -> list[tuple[str, str, str]]:
        judged = self.recorded(UnitJudged)
        return [(one.serial, one.event.verdict, one.event.reason) for one in judged]  # type: ignore[attr-defined]

    @property
    def started(self) -> list[str]:
        return [one.serial for one in self.recorded(UnitStarted)]

    async def has_removed(self, *serials: str) -> None:
        """Wait for the record to say that just these units are out; it is written a moment later."""

        def removed() -> list[str]:
            return [one.serial for one in self.recorded(UnitRemoved)]

        await self.until(lambda: removed() == list(serials), f"{serials} removed")


def order_text(units: int, *, number: str = "QOC-0190") -> str:
    return f"""
number = "{number}"
customer = "Quillmere Orchard Co-op"
quantity = {units}
sensor_type = "barrel-18-rail"
serial_run = {{ prefix = "QOC18-", first = 41, digits = 4 }}

[setting]
mode = "single-point"
output_function = "NO"
output_type = "PNP"
at_mm = 400
tolerance_mm = 8
"""


def bench_at(home: Path, bench: str = "[[unit]]", **more: Any) -> Bench:
    """A bench whose files, orders and record are in one folder; `bench` is what it holds."""
    holds = home / "holds.toml"
    holds.write_text('title = "test"\nendless = true\n' + bench, encoding="utf-8")
    library = PatientLibrary(home) if more.get("real_time") else Library(home)
    more = {"real_time": False, "quickest_s": 0.0, **more}
    return Bench(library, library.read_rig("simulated"), str(holds), home / JOURNAL_NAME, **more)


@asynccontextmanager
async def shop_at(
    home: Path,
    *,
    units: int = 3,
    bench: str = "[[unit]]",
    size: tuple[int, int] = SIZES["small"],
    language: str = "en",
    look: Look = DARK,
    flash: bool = False,
    open_order: bool = True,
    **more: Any,
) -> Any:
    """The application with an order of so many units in hand."""
    (home / "orders").mkdir(exist_ok=True)
    path = home / "orders" / "QOC-0190.toml"
    path.write_text(order_text(units), encoding="utf-8")
    words = Words(language)
    where = bench_at(home, bench, **more)
    app = BenchApp(words, look, where, flash=flash)
    if open_order:
        app.first = OrderWork(where.order(str(path)), words)
    async with app.run_test(size=size) as pilot:
        try:
            shop = Shop(app, pilot, where.journal)
            await shop.until(lambda: len(app.screen_stack) > 1 and any(shop.rows), "first screen")
            await pilot.pause(0.05)
            yield shop
        finally:
            app.end_work("the test is over")


def run(test: Coroutine[Any, Any, _T]) -> _T:
    return asyncio.run(test)
