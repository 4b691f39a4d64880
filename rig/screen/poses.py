"""What the pictures show: how each is set up, and what is done at the screen until it is taken."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass

from textual.pilot import Pilot

from rig.screen.app import BenchApp
from rig.screen.view.board import Phase
from rig.screen.work import OrderWork

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
