"""Who works at the bench signs in with a badge or a name, and is in the record of every unit from the next one on."""

from __future__ import annotations

from pathlib import Path

from textual.events import Key

from rig.events import PersonSignedIn, UnitStarted
from rig.screen.sign_in import SignInScreen
from rig.screen.view.board import Phase
from rig.screen.working import WorkingScreen
from tests.rig.screen.shop import Shop, run, shop_at


async def who(shop: Shop) -> None:
    await shop.keys("insert")
    await shop.until(lambda: isinstance(shop.app.screen, SignInScreen), "sign in")
    await shop.shows("Badge or name")


async def working(shop: Shop) -> None:
    await shop.until(lambda: isinstance(shop.app.screen, WorkingScreen), "the order")


def told(shop: Shop) -> list[str]:
    events = shop.recorded(PersonSignedIn, UnitStarted)
    return [one.event.person if isinstance(one.event, PersonSignedIn) else one.serial for one in events]


def test_a_badge_holds_from_the_next_unit_on_until_another_person_signs_in(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=2) as shop:
            await who(shop)
            assert "Nobody is signed in." in shop.text
            await shop.scan("M4711")
            await working(shop)
            await shop.shows("SIMULATED  M4711")
            await shop.unit("41")
            await shop.keys("enter")
            await shop.phase_is(Phase.SCAN)
            await who(shop)
            assert "M4711 is signed in." in shop.text
            await shop.scan("Tobias")
            await working(shop)
            await shop.unit("42")
            await shop.keys("enter")
            await shop.has_removed("QOC18-0041", "QOC18-0042")
            assert told(shop) == ["M4711", "QOC18-0041", "Tobias", "QOC18-0042"]

    run(main())


def test_enter_alone_changes_nothing_and_what_is_no_name_is_refused(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            await who(shop)
            await shop.scan("--")
            await shop.shows("That is no name")
            await shop.keys("enter")
            await working(shop)
            assert shop.app.signed_in is None

    run(main())


def test_nobody_takes_over_while_a_unit_is_in_work(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=1, real_time=True) as shop:
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)
            await shop.keys("enter")
            await shop.phase_is(Phase.WORK)
            await shop.keys("insert")
            await shop.shows(shop.app.words("say.unit-in-work")[:40])
            assert isinstance(shop.app.screen, WorkingScreen)

    run(main())


def test_the_first_screen_asks_and_f8_works_there_too(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=1) as shop:
            shop.app.push_screen(SignInScreen())
            await shop.shows("Who works here?")
            await shop.keys("f8")
            await shop.shows("Nothing is running")

    run(main())


def test_a_badge_reader_that_ends_in_two_enters_does_not_say_that_the_unit_is_in(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=1, quickest_s=0.4) as shop:
            await shop.scan("41", enters=2)
            await shop.phase_is(Phase.FIT)
            await shop.pilot.pause(0.5)  # whoever reads what is asked may say 'done' from here on
            await who(shop)
            last = Key("enter", "\r")  # sent with the rest, but looked at after the screen has changed
            await shop.scan("M4711", enters=2)
            await working(shop)
            await shop.shows("M4711")
            shop.app.post_message(last)
            await shop.pilot.pause(0.2)
            assert shop.phase is Phase.FIT
            await shop.pilot.pause(0.3)
            await shop.keys("enter")
            await shop.phase_is(Phase.TAKE_OUT)

    run(main())
