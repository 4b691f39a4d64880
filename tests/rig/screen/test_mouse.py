"""The mouse does whatever keys do: buttons of the footer, rows of lists, fields of the form, the wheel."""

from __future__ import annotations

from pathlib import Path

from textual.events import MouseScrollDown

from rig.screen.view.board import Phase
from tests.rig.screen.shop import Shop, run, shop_at

_BAD = '[[unit]]\nfaults = [{ kind = "refuses-teach" }]'


async def _click(shop: Shop, text: str) -> None:
    """Click the first place where something is seen, as soon as it is."""
    await shop.shows(text)
    y = next(y for y, row in enumerate(shop.rows) if text in row)
    await shop.pilot.click(offset=(shop.rows[y].index(text) + 1, y))
    await shop.pilot.pause()


def test_a_unit_is_worked_through_by_the_mouse_and_a_scanner(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=1, bench=_BAD, open_order=False) as shop:
            await _click(shop, "QOC-0190")
            await _click(shop, "> QOC-0190")
            await shop.shows("Scan or type the serial")
            await _click(shop, "SIMULATED")  # the field keeps the focus, whatever is clicked
            await shop.keys("4", "1")
            await _click(shop, "Enter take")
            await shop.phase_is(Phase.FIT)
            await _click(shop, "F8 STOP")
            await shop.phase_is(Phase.TRIPPED)
            await _click(shop, "F2 reset")
            await shop.shows("once more")
            assert shop.phase is Phase.TRIPPED
            await shop.pilot.pause(0.35)
            await _click(shop, "F2 reset")
            await shop.phase_is(Phase.FIT)
            await _click(shop, "Enter done")
            await shop.phase_is(Phase.TAKE_OUT)
            await _click(shop, "Enter done")
            await shop.phase_is(Phase.ASIDE)
            await _click(shop, "F4 units")
            await _click(shop, "QOC18-0041")
            await shop.shows("contact to L+")
            await _click(shop, "F7 explain")
            await shop.shows("Worked out again")
            for below in ("contact to L+", "Units of", "F7 put aside"):
                await _click(shop, "Esc back")
                await shop.shows(below)
            await _click(shop, "F7 put aside")
            await shop.phase_is(Phase.ENDED)

    run(main())


def test_every_other_screen_answers_too(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=1) as shop:
            await _click(shop, "F1 help")
            await shop.shows("lines 1 to")
            await _click(shop, "PgDn")
            await shop.until(lambda: "lines 1 to" not in shop.text, "another page")
            await _click(shop, "Home")
            await shop.shows("lines 1 to")
            await shop.pilot._post_mouse_events([MouseScrollDown], offset=(5, 5))
            await shop.shows("lines 4 to")
            await _click(shop, "F6 all")
            await _click(shop, "F3  orders: take one")
            await _click(shop, ">    F3  orders")
            await _click(shop, "F7 new order")
            await _click(shop, "customer")
            await shop.keys(*"Co-op")
            await shop.shows("Co-op_")
            await _click(shop, "< barrel")
            await _click(shop, "< barrel")
            await _click(shop, "Right")
            await shop.until(lambda: "< barrel-12" not in shop.text, "another type")
            await _click(shop, "F5 rig")
            await _click(shop, "Ins sign in")
            await shop.keys(*"Maren")
            await _click(shop, "Enter take")
            await shop.until(lambda: shop.app.person == "Maren", "signed in")

    run(main())
