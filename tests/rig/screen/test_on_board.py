"""The bench screen at a board: what is found when its lines are opened is said, and stands on the rig screen."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import pytest

import hal.board
from rig.library import Library
from rig.screen.app import BenchApp
from rig.screen.looks import DARK
from rig.screen.setup import Bench
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.session import JOURNAL_NAME
from tests.cli.boarded import put_on_board
from tests.rig.screen.shop import SIZES, Shop, order_text, run

FOUND = "lines on gpiochip0"


def test_what_the_board_start_finds_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("open_board_bench", "_pins"):
        monkeypatch.setattr(hal.board, name, getattr(hal.board, name))  # put back at the end
    library = Library(tmp_path)
    bench = Bench(library, library.read_rig("single-nest"), None, tmp_path / JOURNAL_NAME)
    (tmp_path / "order.toml").write_text(order_text(2), encoding="utf-8")

    async def main() -> None:
        words = Words("en")
        app = BenchApp(words, DARK, bench)
        app.first = OrderWork(bench.order(str(tmp_path / "order.toml")), words)
        async with app.run_test(size=SIZES["usual"]) as pilot:
            shop = Shop(app, pilot, bench.journal)
            try:
                await shop.shows("Scan or type the serial")
                assert FOUND not in shop.text
                await shop.scan("41")
                await shop.shows(FOUND)
                await shop.keys("f5")
                await shop.shows("when the bench was opened")
                assert FOUND in shop.text
            finally:
                app.end_work("the test is over")

    with ExitStack() as stack:
        put_on_board(stack)
        run(main())
