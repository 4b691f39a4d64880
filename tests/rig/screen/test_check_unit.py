"""The check unit at the bench screen: kept, measured, stopped by a signal, looked into, and let go on."""

from __future__ import annotations

from pathlib import Path

from rig.control.check_unit import State
from rig.control.history import account_in
from rig.events import CheckUnitLookedAt, CheckUnitMeasured
from rig.screen.view.board import Phase
from tests.rig.screen.shop import SIZES, Shop, run, shop_at

OFF = "[target]\ncreep_percent_per_shift = 0.8\n\n[[unit]]\n"


async def screen_of_it(shop: Shop) -> None:
    await shop.find_command("check unit")
    await shop.shows("Check unit of rig")


async def measure(shop: Shop) -> None:
    check = shop.app.checkup
    await shop.twice("f2")
    await shop.until(lambda: shop.app.checkup is not check and shop.app.checkup is not None, "its begin")
    await shop.until(lambda: shop.app.checkup is not None and not shop.app.checkup.running, "its end")
    await shop.pilot.pause(0.3)


def state_of(shop: Shop) -> State:
    account = account_in(shop.journal, "simulated")
    assert account is not None
    return account.state


def test_a_signal_bars_the_order_until_somebody_has_looked_and_measured(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, bench=OFF, size=SIZES["usual"]) as shop:
            await shop.unit("41")
            await shop.keys("enter")
            await shop.phase_is(Phase.SCAN)
            await screen_of_it(shop)
            await shop.shows("keeps no check unit")
            await shop.scan("NOBODY")
            await shop.shows("NOBODY cannot be the check unit")
            await shop.scan("QOC18-0041")
            await shop.shows("not measured yet")
            await measure(shop)
            assert state_of(shop) is State.LEARNING
            await measure(shop)
            await shop.shows("SIGNAL: no unit gets a verdict")
            await shop.scan("belt slack")
            await shop.shows("Sign in first")
            await shop.keys("escape")
            await shop.shows("the check unit gave a signal, and nobody has looked")
            await shop.scan("42")
            await shop.shows("the check unit comes first")
            assert "QOC18-0042" not in shop.started

            shop.app.sign_in("Tobias")
            await screen_of_it(shop)
            await shop.shows("Look for the cause")
            await shop.scan("belt slack, tightened")
            await shop.shows("Where was the cause?")
            await shop.scan("9")
            await shop.shows("A digit from 1 to 4")
            await shop.scan("1")
            await shop.shows("now it is to be measured again")
            (looked,) = shop.recorded(CheckUnitLookedAt)
            assert isinstance(looked.event, CheckUnitLookedAt)
            assert (looked.event.person, looked.event.found) == ("Tobias", "belt slack, tightened")
            assert len(shop.recorded(CheckUnitMeasured)) == 2
            await shop.keys("end")
            await shop.shows("belt slack, tightened (rig, mended)")
            await shop.keys("escape")
            await shop.unit("42")

    run(main())
