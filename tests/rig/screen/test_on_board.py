"""The bench screen at a board: what is found when its lines are opened is said, and stands on the rig screen."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import pytest

import hal.board
import rig.screen.work
from rig.library import Library
from rig.screen.app import BenchApp
from rig.screen.looks import DARK
from rig.screen.setup import Bench
from rig.screen.view.board import Phase
from rig.screen.view.instruction import instruction
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.selfcheck.checks import Outcome
from rig.selfcheck.gate import LastCheck
from rig.session import JOURNAL_NAME
from tests.cli.boarded import put_on_board
from tests.rig.screen.shop import SIZES, Shop, order_text, run

FOUND = "lines on gpiochip0"


def test_a_board_whose_self_check_has_failed_teaches_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    failed = LastCheck("2026-01-05T07:00:00.000Z", Outcome.FAILED, "0" * 64)
    monkeypatch.setattr(rig.screen.work, "last_check", lambda *_: failed)
    library = Library(tmp_path)
    bench = Bench(library, library.read_rig("single-nest"), None, tmp_path / JOURNAL_NAME)
    (tmp_path / "order.toml").write_text(order_text(2), encoding="utf-8")
    work = OrderWork(bench.order(str(tmp_path / "order.toml")), Words("en"))
    for _ in range(2):
        work.begin("QOC18-0041")
        assert not work.running
        assert work.board.phase is Phase.FAILED
        assert "has failed" in instruction(work.board).sentence
        assert "F5, then F2 twice" in instruction(work.board).more


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
