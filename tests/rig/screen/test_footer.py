"""The footer names exactly the keys that work now, whatever is shown."""

from __future__ import annotations

from pathlib import Path

from rig.screen.base import BenchScreen
from rig.screen.view.board import Phase
from rig.screen.view.commands import COMMANDS, footer
from rig.screen.view.lines import text_of
from rig.screen.view.wording import Words
from rig.screen.widgets import LinesView
from tests.rig.screen.shop import Shop, run, shop_at

# Stop works everywhere; who says why not, where nobody can sign in.
_KEYS = {
    "enter": ["enter"],
    "arrows": ["up", "down"],
    "pages": ["pageup", "pagedown"],
    "ends": ["home", "end"],
    "end": ["end"],
    "sides": ["left", "right"],
    "tab": ["tab"],
    **{one.name: [one.key] for one in COMMANDS.values() if one.name not in ("stop", "who")},
}
_NEVER = ["f10", "f11", "delete", "shift+tab", "ctrl+p", "ctrl+q", "ctrl+c"]
# What the lines of the bench say comes when it comes.
_LIVE = ("states", "ruler", "live")
_BAD = '[[unit]]\nfaults = [{ kind = "refuses-teach" }]'


def _seen(screen: BenchScreen) -> dict[str | None, tuple[str, ...]]:
    return {
        view.id: tuple(map(text_of, view.lines)) for view in screen.query(LinesView) if view.id not in _LIVE
    }


async def _names_all_that_work(shop: Shop) -> None:
    """No other key changes anything that is seen; and on a small screen no name is cut off, in either language."""
    screen = shop.app.screen
    assert isinstance(screen, BenchScreen)
    await shop.until(lambda: screen.can_paint, "painted")
    await shop.pilot.pause(0.05)
    screen.say("")
    screen.paint()
    named, before = screen.commands(), _seen(screen)
    pressed = {key for name in named for key in _KEYS.get(name, ())}
    others = [key for keys in _KEYS.values() for key in keys if key not in pressed]
    await shop.at_once(*dict.fromkeys(others), *_NEVER)
    await shop.pilot.pause(0.02)
    assert shop.app.screen is screen
    assert _seen(screen) == before
    for words in (Words("en"), Words("de")):
        shown = "\n".join(map(text_of, footer(named, words, 80)))
        assert [key for key in named.values() if words(f"key.{key}") not in shown] == []


def test_it_does_on_every_screen(tmp_path: Path) -> None:
    screens = {
        "f1": "Take care",
        "f3": "examples",
        "f4": "Units of",
        "f5": "Rig simulated",
        "f6": "All commands",
        "insert": "badge",
    }

    async def main() -> None:
        async with shop_at(tmp_path, units=1) as shop:
            for key, shown in screens.items():
                await shop.keys(key)
                await shop.shows(shown)
                await _names_all_that_work(shop)
                await shop.keys("escape")
                await shop.shows("Scan or type the serial")
            await shop.find_command("check unit")
            await shop.shows("Check unit of rig")
            await _names_all_that_work(shop)
            await shop.keys("f3", "f7")
            await shop.shows("New order")
            await _names_all_that_work(shop)

    run(main())


def test_it_does_in_every_phase_of_the_work(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=1, bench=_BAD) as shop:
            await _names_all_that_work(shop)
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)
            await _names_all_that_work(shop)
            await shop.keys("f8")
            await shop.phase_is(Phase.TRIPPED)
            await shop.until(lambda: shop.work.board.cause is not None, "the wish to reset")
            await _names_all_that_work(shop)
            await shop.twice("f2")
            await shop.phase_is(Phase.FIT)
            await shop.keys("enter")
            await shop.phase_is(Phase.TAKE_OUT)
            await _names_all_that_work(shop)
            await shop.keys("enter")
            await shop.phase_is(Phase.ASIDE)
            await _names_all_that_work(shop)
            await shop.keys("f4")
            await shop.shows("Units of")
            await shop.keys("enter")
            await shop.shows("contact to L+")
            await _names_all_that_work(shop)

    run(main())
