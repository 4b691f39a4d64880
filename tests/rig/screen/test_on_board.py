"""The bench screen at a board: what is found when its lines are opened is said, and stands on the rig screen."""

from __future__ import annotations

from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import pytest

import hal.board
import rig.screen.barred
import wiring
from rig.events import OrderStarted, Purpose, UnitJudged, UnitRemoved, UnitStarted, Verdict
from rig.library import Library
from rig.noting import note
from rig.resuming import done_before
from rig.screen.app import BenchApp
from rig.screen.looks import DARK
from rig.screen.orders import recent_orders
from rig.screen.setup import Bench
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.selfcheck.checks import Outcome
from rig.selfcheck.gate import LastCheck
from rig.session import JOURNAL_NAME
from rig.store.hashing import content_of
from tests.cli.boarded import put_on_board
from tests.rig.screen.shop import SIZES, Shop, order_text, run

FOUND = "lines on gpiochip0"


TODAY = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
DAILY = '[self_check]\nneeded = "daily"\n'


def at_board(folder: Path, more: str = "") -> Bench:
    """A bench at a board, with an order of two units beside it."""
    shipped = Path(wiring.__file__).parent / "profiles" / "single-nest.toml"
    (folder / "rig.toml").write_text(shipped.read_text(encoding="utf-8") + more, encoding="utf-8")
    (folder / "order.toml").write_text(order_text(2), encoding="utf-8")
    library = Library(folder)
    return Bench(library, library.read_rig(str(folder / "rig.toml")), None, folder / JOURNAL_NAME)


@pytest.mark.parametrize(
    ("last", "more", "why"),
    [
        (LastCheck(TODAY, Outcome.FAILED, "0" * 64), "", "has failed"),
        (LastCheck(TODAY, Outcome.NOT_DONE, "0" * 64), "", "was not finished"),
        (LastCheck(TODAY, Outcome.PASSED, "0" * 64), DAILY, "has changed"),
        (None, DAILY, "there was none today"),
    ],
)
def test_a_board_without_the_self_check_that_it_needs_opens_and_teaches_nothing(
    last: LastCheck | None, more: str, why: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = [last]
    monkeypatch.setattr(rig.screen.barred, "last_check", lambda *_: found[0])
    bench = at_board(tmp_path, more)

    async def main() -> None:
        words = Words("en")
        app = BenchApp(words, DARK, bench)
        app.first = OrderWork(bench.order(str(tmp_path / "order.toml")), words)
        async with app.run_test(size=SIZES["usual"]) as pilot:
            shop = Shop(app, pilot, bench.journal)
            await shop.shows(why)
            assert "F5 shows the rig; there, F2 twice begins a self-check" in shop.text
            await shop.scan("41")
            await shop.shows("is not taken")
            assert not shop.work.running
            await shop.keys("f5")
            await shop.shows("F2 twice begins one")
            sha256, _ = content_of(bench.profile.model_dump(mode="json"))
            found[0] = LastCheck(TODAY, Outcome.PASSED, sha256)
            await shop.keys("escape")
            await shop.shows("Scan or type the serial")

    run(main())


def test_what_a_board_advises_of_its_self_check_is_said_and_keeps_nobody_from_work(tmp_path: Path) -> None:
    bench = at_board(tmp_path)
    work = OrderWork(bench.order(str(tmp_path / "order.toml")), Words("en"))
    for _ in range(2):
        work.look_whether_barred()
    assert work.board.barred is None
    assert work.noticed == ["there was no self-check today."]


@pytest.mark.parametrize(
    ("purpose", "simulated", "counts"),
    [(Purpose.SET, False, True), (Purpose.SET, True, False), (Purpose.VERIFY, False, False)],
)
def test_only_units_that_were_really_set_count_as_done_at_a_board(
    purpose: Purpose, simulated: bool, counts: bool, tmp_path: Path
) -> None:
    bench = at_board(tmp_path)
    setup = bench.order(str(tmp_path / "order.toml"))
    order, serial = setup.order, "QOC18-0041"
    started = OrderStarted(
        order.number, order.customer, purpose, order.sensor_type, 2, setup.profile.name, simulated, "0"
    )
    judged = UnitJudged(Verdict.GOOD, "proven", "")
    events = (UnitStarted("A", 0), judged, UnitRemoved())
    run_of = [(order.number, "", started), (order.number, "", setup.job.inputs)]
    note(bench.journal, "run", [*run_of, *((order.number, serial, one) for one in events)])
    standing = OrderWork(setup, Words("en")).board.standing
    assert (serial not in standing.open_serials) is counts
    assert [one.done for one in recent_orders(bench)] == ([1] if counts else [])
    done = done_before(bench.journal, order.number, Purpose.SET, order.unit_serials(), simulated=False)
    assert done == ((serial,) if counts else ())


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
