"""A lot at the bench screen, by keys alone: the draw leads, a unit is tested once, the decision is entered by F7."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from rig.events import LotClosed, LotOpened, UnitNamed, UnitPutAside
from rig.lots.draw import drawn
from rig.noting import note
from rig.screen.lot_setup import lot_setup
from rig.screen.lot_work import LotWork
from rig.screen.view.board import Phase
from rig.screen.view.wording import Words
from sequences.library import load_receiving
from tests.cli.test_lots import SMALL
from tests.rig.screen.shop import SIZES, Shop, bench_at, run, shop_at

BOX = 'boxed = true\n[[unit]]\ncount = 4\n[[unit]]\nfaults = [{ kind = "wrong-output-type" }]\n'
SEED = next(seed for seed in range(99) if drawn(5, seed)[1] == 5)


@asynccontextmanager
async def lot_at(home: Path, language: str = "en") -> AsyncIterator[Shop]:
    """The screen with a lot of five, of which three are drawn, the second of them with the wrong output."""
    plan = home / "small.toml"
    plan.write_text(SMALL, encoding="utf-8")
    where = bench_at(home, BOX)
    opened = LotOpened(
        "L-1", "Hazelbourne", "DN-4471", "barrel-18-rail", 5, SEED, "normal",
        load_receiving(plan).model_dump(mode="json"), "", "", "Maren",
    )  # fmt: skip
    note(where.journal, "lot", [("L-1", "", opened)])
    async with shop_at(home, open_order=False, bench=BOX, language=language, size=SIZES["usual"]) as shop:
        shop.app.open_work(LotWork(lot_setup(shop.app.bench, "L-1"), Words(language)))
        await shop.pilot.pause(0.05)
        yield shop


def test_a_lot_from_the_first_place_to_the_decision(tmp_path: Path) -> None:
    first, second, third = drawn(5, SEED)[:3]

    async def main() -> None:
        async with lot_at(tmp_path) as shop:
            assert f"Take the unit at place {first} of the box" in shop.text
            await shop.unit("SN-100")
            await shop.keys("enter")
            await shop.shows(f"Take the unit at place {second} of the box")
            await shop.scan("sn-100")
            await shop.shows(f"was read already, for place {first}")
            await shop.scan(str(third))
            await shop.shows(f"that is place {second}")
            await shop.unit("")
            await shop.keys("enter")
            await shop.phase_is(Phase.ASIDE)
            await shop.keys("f7")
            await shop.unit("")
            await shop.keys("enter")
            await shop.phase_is(Phase.ENDED)
            await shop.shows("1 of 3 units tested have a defect.")
            await shop.keys("f7")
            await shop.shows("The decision is in the record.")
            assert [one.event.decision for one in shop.recorded(LotClosed)] == ["rejected"]  # type: ignore[attr-defined]
            assert [(one.serial, one.event.mark) for one in shop.recorded(UnitNamed)] == [  # type: ignore[attr-defined]
                (f"L-1-{first:04}", "SN-100")
            ]
            assert [one.serial for one in shop.recorded(UnitPutAside)] == [f"L-1-{second:04}"]
            papers = {path.name for path in (shop.journal.parent / "papers").iterdir()}
            assert papers == {
                f"{name}-L-1.{kind}" for name in ("lot", "complaint") for kind in ("pdf", "html")
            }

    run(main())


def test_a_lot_that_was_left_goes_on_where_it_stood_and_is_listed_with_the_orders(tmp_path: Path) -> None:
    first, second, _ = drawn(5, SEED)[:3]

    async def main() -> None:
        async with lot_at(tmp_path) as shop:
            await shop.unit("")
            await shop.keys("enter")
            await shop.phase_is(Phase.SCAN)
            await shop.has_removed(f"L-1-{first:04}")
        async with shop_at(tmp_path, open_order=False, bench=BOX, language="de", size=SIZES["usual"]) as shop:
            await shop.shows("weiter: 1 von 3 geprüft")
            await shop.keys("enter")
            await shop.shows(f"Gerät von Platz {second} der Kiste")

    run(main())
