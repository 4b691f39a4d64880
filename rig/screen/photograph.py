"""Takes the pictures of the README from live runs on simulated benches: `python -m rig.screen.photograph`."""

from __future__ import annotations

import argparse
import asyncio
import os
import re
import tempfile
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from pathlib import Path

from textual.pilot import Pilot

from rig.library import Library
from rig.screen.app import BenchApp
from rig.screen.looks import LOOKS
from rig.screen.setup import Bench, practice
from rig.screen.view.board import Phase
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.session import JOURNAL_NAME

FOLDER = Path(__file__).parent / "pictures"
_PATIENCE_S = 60.0
_STOP_AT_SECOND = '[[unit]]\n[[fault]]\nkind = "stop-pressed"\nfrom_unit = 2\nafter_contacts = 1\n'
_SLOW_RELAY = '[[unit]]\n[[fault]]\nkind = "relay-slow"\nrelay = "load"\n'
_ONE_REFUSES = '[[unit]]\ncount = 3\n[[unit]]\nfaults = [{ kind = "stores-wrongly", offset_mm = 24.0 }]\n'


@dataclass(frozen=True)
class Sitter:
    """The application before the camera."""

    app: BenchApp
    pilot: Pilot[int]

    @property
    def work(self) -> OrderWork:
        """The order in hand."""
        assert self.app.work is not None, "an order is opened before it is worked on"
        return self.app.work

    async def keys(self, *keys: str) -> None:
        """Press keys."""
        await self.pilot.press(*keys)
        await self.pilot.pause(0.2)

    async def scan(self, text: str) -> None:
        """What a scanner types."""
        await self.keys(*text, "enter")

    async def until(self, wanted: Callable[[], object]) -> None:
        """Wait until something is so."""
        end_s = asyncio.get_running_loop().time() + _PATIENCE_S
        while not wanted():
            if asyncio.get_running_loop().time() > end_s:
                raise TimeoutError(f"the sitter does not come to it; it is {self.work.board.phase}")
            await self.pilot.pause(0.02)

    async def phase(self, *phases: Phase) -> None:
        """Wait for a phase."""
        await self.until(lambda: self.work.board.phase in phases)

    async def unit(self, digits: str) -> None:
        """Set a unit up to its verdict."""
        await self.phase(Phase.READY, Phase.SCAN)
        await self.scan(digits)
        await self.phase(Phase.FIT)
        await self.keys("enter")
        await self.phase(Phase.TAKE_OUT)

    async def contact(self, seconds: float) -> None:
        """Wait until a contact has been closed for so long."""
        await self.until(
            lambda: self.work.state is not None and (self.work.state.nests[0].contact_s or 0.0) >= seconds
        )


Pose = Callable[[Sitter], Awaitable[None]]


@dataclass(frozen=True)
class Picture:
    """One picture: how the application is set up, and what is done until it is taken."""

    name: str
    pose: Pose
    size: tuple[int, int] = (80, 24)
    order: str | None = "tipper-point-no"
    holds: str = "[[unit]]"
    look: str = "dark"
    language: str = "en"
    real_time: bool = False


async def _scan(of: Sitter) -> None:
    for digits in ("41", "42"):
        await of.unit(digits)
        await of.keys("enter")
    await of.phase(Phase.SCAN)


async def _teach(of: Sitter) -> None:
    await of.scan("41")
    await of.phase(Phase.FIT)
    await asyncio.sleep(0.5)
    await of.keys("enter")
    await of.contact(0.9)


async def _good(of: Sitter) -> None:
    for digits in ("41", "42", "43"):
        await of.unit(digits)
        if digits != "43":
            await of.keys("enter")


async def _bad(of: Sitter) -> None:
    for digits in ("41", "42", "43"):
        await of.unit(digits)
        await of.keys("enter")
    await of.unit("44")


async def _tripped(of: Sitter) -> None:
    await of.unit("41")
    await of.keys("enter")
    await of.phase(Phase.SCAN)
    await of.scan("42")
    await of.phase(Phase.FIT)
    await of.keys("enter")
    await of.phase(Phase.TRIPPED)
    await of.until(lambda: of.work.state is not None and of.work.state.causes)


async def _orders(of: Sitter) -> None:
    await of.unit("41")
    await of.keys("enter")
    await of.phase(Phase.SCAN)
    await asyncio.sleep(1.2)  # the record is written
    await of.keys("f3")
    await of.keys("down", "down")
    for _ in range(8):
        if "tipper" in getattr(of.app.screen, "chosen", ""):
            break
        await of.keys("down")


async def _form(of: Sitter) -> None:
    await of.keys("f7")
    await of.keys(*"QOC-0120")
    form = of.app.screen.form  # type: ignore[attr-defined]
    form.texts["customer"] = "Quillmere Orchard Co-op"
    form.texts |= {"sensor_type": "barrel-18-rail", "at_mm": "412,5", "tolerance_mm": "8", "quantity": "24"}
    form.texts["prefix"] = "QOC18-"
    await of.keys("down")


async def _unit(of: Sitter) -> None:
    await _bad(of)
    await of.keys("enter")
    await of.keys("f7")
    await asyncio.sleep(1.2)
    await of.keys("f4")
    await of.keys(*"44", "enter")
    await of.keys("pagedown")


async def _explain(of: Sitter) -> None:
    await _unit(of)
    await of.keys("f7")


async def _rig(of: Sitter) -> None:
    await _tripped(of)
    await of.keys("f5")
    await of.pilot.pause(0.5)


async def _self_check(of: Sitter) -> None:
    await of.keys("f5")
    await of.keys("f2")
    await asyncio.sleep(0.5)
    await of.keys("f2")
    await of.until(lambda: of.app.checkup is not None and not of.app.checkup.running)
    await of.pilot.pause(0.3)


async def _practice(of: Sitter) -> None:
    await of.keys("f9")
    await of.scan("1")
    await of.phase(Phase.FIT)
    await asyncio.sleep(0.5)
    await of.keys("enter")
    await of.phase(Phase.ASKED)
    await asyncio.sleep(0.5)
    await of.keys("enter")  # the beam is clear already
    await of.until(lambda: of.work.board.request is not None and of.work.board.request.position_mm)
    await of.scan("380")
    await of.keys("end")
    await of.keys("up", "up", "up", "up")
    await of.pilot.pause(0.4)


PICTURES = (
    Picture("scan", _scan),
    Picture("teach", _teach, (120, 40), real_time=True),
    Picture("good", _good),
    Picture("bad", _bad, (120, 40), holds=_ONE_REFUSES, look="light"),
    Picture("tripped", _tripped, holds=_STOP_AT_SECOND),
    Picture("orders", _orders, (120, 40)),
    Picture("form", _form, (120, 40), order=None),
    Picture("unit", _unit, (120, 40), holds=_ONE_REFUSES),
    Picture("explain", _explain, (100, 36), holds=_ONE_REFUSES),
    Picture("rig", _rig, (100, 30), holds=_STOP_AT_SECOND, look="light"),
    Picture("selfcheck", _self_check, (100, 36), holds=_SLOW_RELAY),
    Picture("practice", _practice, order="practice", real_time=True),
    Picture("far", _good, (200, 60)),
    Picture("plain", _bad, holds=_ONE_REFUSES, look="plain"),
    Picture("german", _scan, language="de"),
)


async def photograph(picture: Picture, home: Path) -> str:
    """One picture as SVG, with `home` for the record."""
    words = Words(picture.language)
    holds = home / "holds.toml"
    holds.write_text(f'title = "units for a picture"\nendless = true\n{picture.holds}', encoding="utf-8")
    library = Library(home)
    profile = library.read_rig("simulated")
    bench = Bench(
        library, profile, str(holds), home / JOURNAL_NAME, quickest_s=0.0, real_time=picture.real_time
    )
    app = BenchApp(words, LOOKS[picture.look], bench)
    if picture.order == "practice":
        app.first = OrderWork(practice(library, 1.0), words)
    elif picture.order is not None:
        app.first = OrderWork(bench.order(picture.order), words)
    async with app.run_test(size=picture.size) as pilot:
        await pilot.pause(0.3)
        try:
            await picture.pose(Sitter(app, pilot))
            await pilot.pause(0.3)
            return _without_web_fonts(app.export_screenshot(title="teachrig bench"))
        finally:
            app.end_work("the picture is taken")


def _without_web_fonts(svg: str) -> str:
    svg = re.sub(r"@font-face\s*\{[^}]*\}\s*", "", svg)
    return svg.replace("Fira Code", "DejaVu Sans Mono, Menlo, Consolas")


def main(arguments: list[str] | None = None) -> int:
    """Take the pictures that were named, or all."""
    names = [picture.name for picture in PICTURES]
    parser = argparse.ArgumentParser(prog="python -m rig.screen.photograph", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"which (default: all): {', '.join(names)}")
    parser.add_argument("--out", type=Path, default=FOLDER, metavar="DIR", help="folder for the pictures")
    options = parser.parse_args(arguments)
    options.out.mkdir(parents=True, exist_ok=True)
    for picture in PICTURES:
        if not options.names or picture.name in options.names:
            os.environ.pop("NO_COLOR", None)
            if picture.look == "plain":
                os.environ["NO_COLOR"] = "1"
            with tempfile.TemporaryDirectory() as home:
                svg = asyncio.run(photograph(picture, Path(home)))
            (options.out / f"{picture.name}.svg").write_text(svg, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
