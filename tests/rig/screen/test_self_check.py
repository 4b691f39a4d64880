"""The self-check on the rig screen: begun in two steps, followed check by check, and stopped by the stop key."""

from __future__ import annotations

from pathlib import Path

import pytest

from rig.events import PartChecked, SelfCheckEnded, SelfCheckStarted
from rig.screen.view.board import Phase
from tests.rig.screen.shop import SIZES, Shop, run, shop_at

SLOW_LOAD = '[[unit]]\n[[fault]]\nkind = "relay-slow"\nrelay = "load"\n'


async def begin(shop: Shop) -> None:
    await shop.keys("f5")
    await shop.shows("F2 self-check")
    await shop.twice("f2")
    await shop.shows("Self-check of rig")


async def ended(shop: Shop) -> str:
    await shop.until(lambda: shop.app.checkup is not None and not shop.app.checkup.running, "its end")
    await shop.shows("Everything is off.")
    (end,) = shop.recorded(SelfCheckEnded)
    return str(end.event.outcome)  # type: ignore[attr-defined]


def test_a_sound_rig_passes_and_every_check_is_shown_with_its_limits(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, size=SIZES["far"]) as shop:
            await shop.keys("f5")
            await shop.shows("none on record")
            await shop.keys("escape")
            await begin(shop)
            assert await ended(shop) == "passed"
            await shop.keys("home")
            await shop.shows("PASSED: units may be taught on this rig.")
            assert "voltage 24.0 V, allowed 22.8 to 25.2 V" in shop.text
            assert "allowed up to 12 ms" in shop.text
            seen = []
            for _ in range(20):
                seen.append(shop.text)
                await shop.keys("pagedown")
            parts = [one.event.part for one in shop.recorded(PartChecked)]  # type: ignore[attr-defined]
            assert len(parts) > 8
            assert [part for part in parts if f" {part} " not in "".join(seen)] == []
            await shop.keys("escape")
            await shop.shows("last self-check")
            await shop.shows("+ passed")
            await shop.keys("escape")
            await shop.unit("41")  # the order goes on
            assert shop.verdicts == [("QOC18-0041", "good", "proven")]

    run(main())


def test_a_fault_is_named_with_the_value_the_limit_and_the_terminal(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, bench=SLOW_LOAD, open_order=False) as shop:
            await begin(shop)
            assert await ended(shop) == "failed"
            await shop.shows("FAILED: no unit is taught on a board until a self-check has passed.")
            await shop.shows("x load relay of nest A")
            assert "Change -K14" in shop.text
            await shop.keys("escape")
            await shop.shows("x FAILED")

    run(main())


def test_it_is_refused_while_a_unit_is_in_work_and_closes_the_bench_between_units(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            await shop.unit("41")
            await shop.keys("f5")
            await shop.shows("finish the unit")
            assert "self-check" not in shop.rows[-2]
            await shop.keys("f2", "f2")
            await shop.pilot.pause(0.4)
            await shop.keys("f2")
            assert shop.app.checkup is None
            await shop.keys("escape", "enter")
            await shop.phase_is(Phase.SCAN)
            await begin(shop)
            assert await ended(shop) == "passed"
            await shop.keys("escape", "escape")
            await shop.unit("42")
            assert [serial for serial, _, _ in shop.verdicts] == ["QOC18-0041", "QOC18-0042"]

    run(main())


def test_the_stop_key_ends_it_with_everything_off(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, real_time=True) as shop:
            await begin(shop)
            await shop.until(lambda: shop.recorded(SelfCheckStarted), "its begin")
            assert shop.rows[-1].strip() == "F12 leave"  # leads nowhere else while it runs
            await shop.keys("f3", "escape", *"b7", "enter")
            await shop.shows("not now")
            await shop.keys("f8")
            assert await ended(shop) == "not done"
            await shop.shows("NOT FINISHED")

    run(main())


@pytest.mark.parametrize("size", SIZES.values(), ids=SIZES)
def test_nothing_of_it_is_wider_than_the_screen(size: tuple[int, int], tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, bench=SLOW_LOAD, size=size, language="de", open_order=False) as shop:
            await shop.keys("f5")
            await shop.shows("F2 Selbstpr")
            await shop.keys("f2")
            await shop.shows("Noch einmal")
            await shop.pilot.pause(0.35)
            await shop.keys("f2")
            await shop.shows("NICHT BESTANDEN")
            assert not [row for row in shop.rows if row.endswith("~")]

    run(main())
