"""What the main states look like at three sizes, as text that reads well in a difference.

After a change that is meant to show: `TEACHRIG_LOOKS=new python -m pytest tests/rig/screen/test_looks_the_same.py`,
then read what has changed before it is committed.
"""

from __future__ import annotations

import os
import re
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest

from rig.screen.view.board import Phase
from tests.rig.screen.shop import SIZES, Shop, run, shop_at

LOOKS = Path(__file__).parent / "looks"
BENCH = '[[unit]]\n[[unit]]\nfaults = [{ kind = "refuses-teach" }]\n[[unit]]'
STOPPED = '[[unit]]\n[[fault]]\nkind = "stop-pressed"\nafter_contacts = 1'


async def _ready(_: Shop) -> None:
    pass


async def _fit(shop: Shop) -> None:
    await shop.scan("41")
    await shop.phase_is(Phase.FIT)


async def _good(shop: Shop) -> None:
    await shop.unit("41")


async def _bad(shop: Shop) -> None:
    await shop.unit("41")
    await shop.keys("enter")
    await shop.unit("42")


async def _aside(shop: Shop) -> None:
    await _bad(shop)
    await shop.keys("enter")
    await shop.phase_is(Phase.ASIDE)


async def _tripped(shop: Shop) -> None:
    await shop.scan("41")
    await shop.phase_is(Phase.FIT)
    await shop.keys("enter")
    await shop.phase_is(Phase.TRIPPED)
    await shop.shows("the stop button is pressed")


async def _ended(shop: Shop) -> None:
    await _bad(shop)
    await shop.scan("42")
    await shop.unit("43")
    await shop.keys("enter")
    await shop.phase_is(Phase.ENDED)


async def _units(shop: Shop) -> None:
    await _aside(shop)
    await shop.keys("f4")
    await shop.shows("Units of")


async def _help(shop: Shop) -> None:
    await shop.keys("f1")
    await shop.shows("Take care")


STATES: dict[str, tuple[Callable[[Shop], Awaitable[None]], str]] = {
    "ready": (_ready, BENCH),
    "fit": (_fit, BENCH),
    "good": (_good, BENCH),
    "bad": (_bad, BENCH),
    "aside": (_aside, BENCH),
    "tripped": (_tripped, STOPPED),
    "ended": (_ended, BENCH),
    "units": (_units, BENCH),
    "help": (_help, BENCH),
}


_TIME = re.compile(r"\d+(?:\.\d+)?(?= s\b|/h)")


def _without_times(text: str) -> str:
    """How long something took is the engine's business, not that of the looks."""
    return _TIME.sub(lambda found: "#" * len(found[0]), text)


@pytest.mark.parametrize("state", STATES)
def test_it_looks_as_it_did(state: str, tmp_path: Path) -> None:
    pose, bench = STATES[state]

    async def main() -> dict[str, str]:
        async with shop_at(tmp_path, bench=bench) as shop:
            await pose(shop)
            if state not in ("ready", "ended", "help"):  # the lines of an open bench come a moment later
                await shop.until(lambda: shop.work.state is not None, "lines")
            await shop.pilot.pause(0.3)
            texts = {}
            for size, (columns, rows) in SIZES.items():
                await shop.pilot.resize_terminal(columns, rows)
                await shop.until(lambda rows=rows: len(shop.rows) == rows, size)
                await shop.pilot.pause(0.4)
                texts[size] = _without_times(shop.text) + "\n"
            return texts

    for size, text in run(main()).items():
        columns, rows = SIZES[size]
        assert text.count("\n") == rows
        assert all(len(row) <= columns for row in text.splitlines())
        file = LOOKS / f"{state}-{size}.txt"
        if os.environ.get("TEACHRIG_LOOKS") == "new":
            file.parent.mkdir(exist_ok=True)
            file.write_text(text, encoding="utf-8")
        assert text == file.read_text(encoding="utf-8"), size
