"""What goes wrong around the work: it is said in plain words, nothing recorded is lost, and the work goes on."""

from __future__ import annotations

import dataclasses
import time
from pathlib import Path

from rig.events import OrderStarted, Purpose
from rig.library import Library
from rig.noting import note
from rig.screen.desk import ScanDesk
from rig.screen.orders import numbers_in_use
from rig.screen.setup import practice
from rig.screen.view.board import Phase
from rig.screen.view.order_form import OrderForm
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from tests.rig.recorded import change, refuse_serial
from tests.rig.screen.shop import PATIENCE_S, bench_at, order_text, run, shop_at


def test_a_full_disk_stops_the_work_before_anything_is_energised_and_it_goes_on(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=2) as shop:
            await shop.unit("41")
            await shop.keys("enter")
            await shop.phase_is(Phase.SCAN)
            refuse_serial(shop.journal, "QOC18-0042")
            await shop.scan("42")
            await shop.phase_is(Phase.FIT)
            await shop.keys("enter")
            await shop.phase_is(Phase.FAILED)
            await shop.shows("could not be written")
            assert "Nothing that was recorded is lost" in shop.text
            assert shop.work.state is None or not shop.work.state.nests[0].supplied
            assert [serial for serial, _, _ in shop.verdicts] == ["QOC18-0041"]
            change(shop.journal, "DROP TRIGGER refuse")
            await shop.twice("f2")
            await shop.phase_is(Phase.SCAN)
            await shop.unit("42")
            assert [serial for serial, _, _ in shop.verdicts] == ["QOC18-0041", "QOC18-0042"]

    run(main())


def test_an_instrument_that_is_lost_ends_the_work_and_the_bench_is_opened_anew(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=2) as shop:
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)
            assert shop.work.hands is not None
            simulated = shop.work.hands._simulated
            assert simulated is not None
            wire = simulated.wires["sim:supply"]
            assert shop.work._engine is not None
            shop.work._engine.call(wire.close)
            await shop.keys("enter")
            await shop.phase_is(Phase.FAILED)
            await shop.shows("an instrument does not answer")
            assert "QOC18-0041" in shop.work.board.standing.open_serials
            await shop.twice("f2")
            await shop.phase_is(Phase.SCAN)
            await shop.unit("41")
            assert shop.verdicts[-1] == ("QOC18-0041", "good", "proven")

    run(main())


def test_every_screen_is_reached_and_left_by_the_keys_that_the_footer_names(tmp_path: Path) -> None:
    titles = {
        "f1": "Take care",
        "f3": "examples",
        "f4": "Units of QOC-0190",
        "f5": "Rig simulated",
        "f6": "All commands",
    }

    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            for key, title in titles.items():
                assert f" {key.upper()} " in shop.rows[-1]
                await shop.keys(key)
                await shop.shows(title)
                assert shop.rows[-2].startswith(" F8 STOP")
                assert shop.rows[-1].startswith(" Esc back")
                await shop.keys("f8")
                await shop.shows("Nothing is running")
                await shop.keys("escape")
                await shop.shows("Scan or type the serial")

    run(main())


def test_a_command_can_be_found_by_a_few_letters(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            await shop.keys("f6")
            await shop.scan("caution", enters=2)  # a scan finds, but it takes a person's Enter
            await shop.shows("Press Enter once more: help and cautions")
            assert "PELV only" not in shop.text
            await shop.pilot.pause(0.35)
            await shop.keys("enter")
            await shop.shows("PELV only")
            await shop.find_command("light")
            await shop.until(lambda: shop.app.look.name == "light", "light")

    run(main())


def test_a_new_order_is_checked_as_it_is_typed_and_can_be_worked_on(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, open_order=False, size=(120, 40)) as shop:
            await shop.shows("examples")
            await shop.keys("f7")
            await shop.shows("New order")
            await shop.keys(*"QOC-0555", "down", *"Co-op", "down")
            while "< barrel-18-rail >" not in shop.text:
                await shop.keys("right")
            await shop.keys("down")
            while "< PNP >" not in shop.text:
                await shop.keys("right")
            await shop.keys("down", "down", "down", *"40", "down", "8")
            await shop.shows("set point lies in the blind zone")  # 40 mm: refused, with what is possible
            assert "F7 save" not in shop.text
            await shop.keys("up", "backspace", "backspace", *"412,5")
            await shop.shows("^412.5")  # the drawing has followed
            await shop.keys("down", "down", "backspace", "3", "down", *"Q-")
            await shop.shows("F7 save")
            await shop.keys("f7")
            await shop.shows("Scan or type the serial")
            assert shop.work.setup.job.order.unit_serials() == ("Q-001", "Q-002", "Q-003")
            assert (tmp_path / "orders" / "QOC-0555.toml").is_file()

    run(main())


def test_a_new_order_gets_no_number_that_a_file_or_the_record_has(tmp_path: Path) -> None:
    (tmp_path / "orders").mkdir()
    (tmp_path / "orders" / "by another name.toml").write_text(
        order_text(2, number="QOC-0301"), encoding="utf-8"
    )
    (tmp_path / "orders" / "broken.toml").write_text("number = ", encoding="utf-8")
    bench = bench_at(tmp_path)
    started = OrderStarted("QOC-0302", "Co-op", Purpose.SET, "barrel-18-rail", 2, "simulated", True, "0")
    note(bench.journal, "run", [("QOC-0302", "", started)])
    taken = numbers_in_use(bench)
    assert {"QOC-0301", "QOC-0302", "QOC-0101"} <= taken  # the last is of a shipped example
    form = OrderForm(bench.library.good_types(), bench.profile, tuple(taken))
    form.texts |= {"customer": "Co-op", "at_mm": "150", "tolerance_mm": "8"}
    for number in ("QOC-0301", "QOC-0302"):
        form.type_in("number", number)
        assert form.check().about("number") == "another order has this number"
    form.type_in("number", "QOC-0303")
    assert form.check().order is not None


def test_units_are_searched_and_filtered_and_show_their_events(tmp_path: Path) -> None:
    bench = '[[unit]]\n[[unit]]\nfaults = [{ kind = "refuses-teach" }]\n[[unit]]'

    async def main() -> None:
        async with shop_at(tmp_path, units=3, bench=bench, size=(120, 40)) as shop:
            await shop.unit("41")
            await shop.keys("enter")
            await shop.unit("42")
            await shop.scan("42")
            await shop.phase_is(Phase.SCAN)
            await shop.keys("f4")
            await shop.shows("QOC18-0043")
            await shop.keys("f7")
            await shop.shows("good only")
            assert "QOC18-0042" not in shop.text
            await shop.keys("f7")
            await shop.shows("bad only")
            await shop.keys("enter")
            await shop.shows("Unit QOC18-0042")
            await shop.shows("contact to L+")
            assert "unit refused the step" in shop.text
            await shop.keys("escape", "escape")
            await shop.shows("Scan or type the serial")

    run(main())


_HURRY = 1.5
_SETTLES_S = 0.3


def test_practice_by_the_users_own_hand_has_its_consequences() -> None:
    """The target taught at the wrong distance makes a unit that switches at the wrong distance."""
    setup = dataclasses.replace(practice(Library(None), _HURRY), quickest_s=0.0)
    work = OrderWork(setup, Words("en"))
    assert work.hands is not None
    work.hands.change()
    assert work.hands.mine
    work.enter("1")
    end_s, asked = time.monotonic() + PATIENCE_S * 3, None
    while work.board.phase is not Phase.TAKE_OUT:
        assert time.monotonic() < end_s, work.board.phase
        work.pump()
        request = work.board.request
        if work.board.phase is Phase.TRIPPED:  # a computer that is held up for long; the unit begins again
            work.reset()
        if work.board.phase in (Phase.FIT, Phase.ASKED) and request is not asked:
            asked = request
            _obey(work, taught_mm=430.0)
        time.sleep(0.01)
    work.leave("done")
    assert work.board.judged is not None
    assert work.board.judged.verdict == "bad", work.board.judged.words
    assert "must be off" in work.board.judged.words


def _obey(work: OrderWork, *, taught_mm: float) -> None:
    """Do what is asked, but put the target elsewhere when the unit is taught."""
    request, hands = work.board.request, work.hands
    assert request is not None
    assert hands is not None
    wanted_mm = taught_mm if request.position_mm == 400.0 else request.position_mm
    if wanted_mm is not None:
        hands.move(to_mm=wanted_mm)
    if (request.request == "clear-beam" and hands.in_beam) or (wanted_mm is not None and not hands.in_beam):
        hands.swing()
    end_s = time.monotonic() + PATIENCE_S
    while wanted_mm is not None and abs((hands.target_mm or 0.0) - wanted_mm) > 0.5:
        assert time.monotonic() < end_s, "the target never came"
        time.sleep(0.01)
    time.sleep(_SETTLES_S / _HURRY)
    work.enter("")


def test_a_desk_ignores_what_it_did_not_ask_for() -> None:
    desk = ScanDesk(["A-1"], lambda _: None)
    desk.hand_over("A-1")
    desk.have_put_aside()
    desk.reset()
    assert not desk.leaving
    desk.leave()
    assert desk.leaving
