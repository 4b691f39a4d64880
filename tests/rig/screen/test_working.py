"""Whole orders by keys alone, in the real application."""

from __future__ import annotations

import dataclasses
import time
from pathlib import Path

import pytest

from rig.events import Asked, BenchReset, BenchTripped, OrderEnded
from rig.library import Library
from rig.screen.setup import practice
from rig.screen.view.board import Phase
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from rig.session import JOURNAL_NAME
from tests.rig.screen.shop import PATIENCE_S, run, shop_at

REFUSES = '[[unit]]\n[[unit]]\nfaults = [{ kind = "refuses-teach" }]\n[[unit]]'


def test_a_good_batch(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=3) as shop:
            assert "QOC-0190" in shop.rows[0]
            for digits in ("41", "42", "43"):
                await shop.unit(digits)
                assert "proven" in shop.text
                assert "+ changes once: 395.2 to 408.8 mm" in shop.text
                await shop.keys("enter")
            await shop.phase_is(Phase.ENDED)
            await shop.shows("3 good, 0 bad")
            assert shop.verdicts == [(f"QOC18-004{i}", "good", "proven") for i in (1, 2, 3)]
            await shop.has_removed("QOC18-0041", "QOC18-0042", "QOC18-0043")

    run(main())


def test_the_next_scan_says_that_a_good_unit_is_out(tmp_path: Path) -> None:
    """A scanner and Enter alone: nobody has to press Enter between two good units."""

    async def main() -> None:
        async with shop_at(tmp_path, units=2) as shop:
            await shop.unit("QOC18-0041")
            await shop.scan("qoc18-0042")
            await shop.phase_is(Phase.FIT)
            assert shop.work.board.serial == "QOC18-0042"
            await shop.has_removed("QOC18-0041")

    run(main())


def test_a_bad_unit_must_be_put_aside_by_an_explicit_act(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=3, bench=REFUSES) as shop:
            await shop.unit("41")
            await shop.scan("42")
            await shop.phase_is(Phase.FIT)
            await shop.keys("enter")
            await shop.phase_is(Phase.TAKE_OUT)
            assert "unit refused the step" in shop.text
            await shop.scan("43")  # the next unit does not slip past
            await shop.shows("is not the unit to put aside")
            assert shop.phase is Phase.TAKE_OUT
            await shop.keys("enter")
            await shop.phase_is(Phase.ASIDE)
            await shop.keys("enter", "enter", "enter")
            await shop.scan("43")
            await shop.pilot.pause(0.2)
            assert shop.phase is Phase.ASIDE
            await shop.has_removed("QOC18-0041")
            await shop.keys("f7")
            await shop.phase_is(Phase.SCAN)
            await shop.has_removed("QOC18-0041", "QOC18-0042")
            await shop.unit("43")
            await shop.keys("enter")
            await shop.phase_is(Phase.ENDED)
            await shop.shows("2 good, 1 bad")

    run(main())


def test_a_bad_unit_is_put_aside_by_scanning_it_again(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(
            tmp_path, units=2, bench='[[unit]]\nfaults = [{ kind = "refuses-teach" }]'
        ) as shop:
            await shop.unit("41")
            await shop.scan("QOC18-0041")
            await shop.phase_is(Phase.SCAN)
            await shop.has_removed("QOC18-0041")

    run(main())


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("QOC18-0099", "is no unit of this order"),
        ("8", "is no unit of this order"),
        ("QOC18-0041", "is done: good at"),
        ("0041", "is done: good"),
    ],
)
def test_a_wrong_or_repeated_serial_is_refused(text: str, said: str, tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=12) as shop:
            await shop.unit("41")
            await shop.keys("enter")
            await shop.phase_is(Phase.SCAN)
            await shop.scan(text)
            await shop.shows(said)
            assert shop.phase is Phase.SCAN
            assert shop.started == ["QOC18-0041"]

    run(main())


def test_what_a_scanner_types_is_never_a_command(tmp_path: Path) -> None:
    """A scan that spells keys, quits, commands of a shell and of the library's own palette."""
    spelled = ["q", "F12", "f8", "quit", "exit", ":q!", "^Q", "STOP", "reset", "begin", "?", "/", "\\", " "]

    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            screen = shop.app.screen
            for text in spelled:
                await shop.pilot.press(*("space" if one == " " else one for one in text), "enter")
                await shop.pilot.pause(0.02)
                assert shop.app.screen is screen
                assert shop.phase is Phase.READY
                assert not shop.work.running
            for control in ("ctrl+q", "ctrl+c", "ctrl+p", "ctrl+d", "ctrl+z", "tab", "shift+tab"):
                await shop.keys(control)
            assert shop.app.screen is screen
            assert shop.app.focused is not None
            assert shop.app.focused.id == "scan"
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)

    run(main())


def test_the_stop_key_trips_and_after_a_reset_the_unit_is_set_again_from_the_start(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=2, real_time=True) as shop:
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)
            await shop.keys("enter")
            await shop.until(lambda: (s := shop.work.state) and s.nests[0].contact_s, "a contact")
            await shop.keys("f8")
            await shop.phase_is(Phase.TRIPPED)
            await shop.shows("stop key")
            assert "QOC18-0041 was interrupted" in shop.text
            await shop.until(lambda: (s := shop.work.state) and s.nests[0].contact_s is None, "open")
            await shop.keys("f2")  # one step only says what the second would do
            await shop.shows("once more")
            assert shop.phase is Phase.TRIPPED
            await shop.pilot.pause(0.35)
            await shop.keys("f2")
            await shop.phase_is(Phase.FIT)
            assert shop.work.board.serial == "QOC18-0041"
            assert [reason for _, _, reason in shop.verdicts] == ["interrupted"]
            await shop.until(lambda: shop.recorded(BenchReset), "the reset on record")
            assert len(shop.recorded(BenchTripped)) == 1

    run(main())


def test_a_trip_before_the_unit_is_in_leads_back_to_that_unit_even_if_it_is_the_last(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=1) as shop:
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)
            await shop.keys("f8")
            await shop.phase_is(Phase.TRIPPED)
            await shop.twice("f2")
            await shop.phase_is(Phase.FIT)
            await shop.shows("Put unit QOC18-0041")
            await shop.keys("enter")
            await shop.phase_is(Phase.TAKE_OUT)
            assert [(serial, verdict) for serial, verdict, _ in shop.verdicts] == [("QOC18-0041", "good")]

    run(main())


def test_a_stop_button_still_pressed_stands_in_the_way_of_the_reset(tmp_path: Path) -> None:
    bench = '[[unit]]\n[[fault]]\nkind = "stop-pressed"\nafter_contacts = 1'

    async def main() -> None:
        async with shop_at(tmp_path, bench=bench) as shop:
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)
            await shop.keys("enter")
            await shop.phase_is(Phase.TRIPPED)
            await shop.shows("the stop button is pressed")
            await shop.twice("f2")
            await shop.shows("Not reset")
            await shop.keys("f5")
            await shop.shows("stop button ! pressed")
            await shop.keys("f9")  # pull it out, on the rig screen of a simulated bench
            await shop.shows("not pressed")
            await shop.twice("f2")
            await shop.keys("escape")
            await shop.phase_is(Phase.FIT)
            assert shop.work.board.serial == "QOC18-0041"
            await shop.keys("enter")
            await shop.phase_is(Phase.TAKE_OUT)
            assert [reason for _, _, reason in shop.verdicts] == ["bench-tripped", "proven"]

    run(main())


def test_an_abandoned_order_is_taken_up_where_it_stood(tmp_path: Path) -> None:
    async def first() -> None:
        async with shop_at(tmp_path, units=3, bench=REFUSES) as shop:
            await shop.unit("41")
            await shop.keys("enter")
            await shop.unit("42")  # bad, and left in the nest

    async def second() -> None:
        async with shop_at(tmp_path, units=3, open_order=False) as shop:
            await shop.shows("go on: 2 of 3 done")
            await shop.keys("enter")
            await shop.phase_is(Phase.ASIDE)  # the bad one still has to be put aside
            await shop.scan("43")
            await shop.shows("is not the unit to put aside")
            await shop.keys("f7")
            await shop.phase_is(Phase.READY)
            await shop.scan("QOC18-0041")
            await shop.shows("is done: good")
            await shop.unit("43")
            await shop.keys("enter")
            await shop.phase_is(Phase.ENDED)
            assert shop.started == ["QOC18-0041", "QOC18-0042", "QOC18-0043"]

    run(first())
    run(second())


def test_leaving_asks_only_while_a_unit_is_in_work(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, real_time=True) as shop:
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)
            await shop.keys("enter")
            await shop.phase_is(Phase.WORK)
            await shop.keys("f12")
            await shop.shows("once more")
            assert shop.work.running
            await shop.pilot.pause(0.35)
            await shop.keys("f12")
            await shop.until(lambda: shop.app.return_code == 0, "left")
            assert [reason for _, _, reason in shop.verdicts] == ["interrupted"]
            (ended,) = shop.recorded(OrderEnded)
            assert ended.event.left == 2

    run(main())


@pytest.mark.parametrize("flash", [True, False])
def test_a_verdict_flashes_where_that_is_wished(flash: bool, tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, flash=flash) as shop:
            await shop.unit("41")
            blanks = 0
            for _ in range(20):
                await shop.pilot.pause(0.05)
                blanks += not any(shop.rows[1:4])
            assert bool(blanks) is flash
            await shop.until(lambda: any(shop.rows[1:4]), "the word again")

    run(main())


def test_enter_never_overtakes_the_simulated_person(tmp_path: Path) -> None:
    """A newcomer presses Enter for everything: units go in and out by it, the target is left to whom it was given."""
    setup = practice(Library(tmp_path), 1.0, tmp_path / JOURNAL_NAME)
    work = OrderWork(dataclasses.replace(setup, real_time=False, quickest_s=0.0), Words("en"))
    work.enter("1")
    end_s = time.monotonic() + PATIENCE_S
    while work.board.phase is not Phase.TAKE_OUT:
        assert time.monotonic() < end_s, work.board.phase
        work.pump()
        if work.board.phase in (Phase.FIT, Phase.ASKED):
            work.enter("")
        time.sleep(0.002)
    work.leave("done")
    assert work.board.judged is not None
    assert (work.board.judged.verdict, work.board.judged.reason) == ("good", "proven")


@pytest.mark.parametrize("request_kind", ["place-target", "clear-beam", "confirm"])
def test_what_the_simulated_person_does_is_said_to_be_theirs(request_kind: str, tmp_path: Path) -> None:
    work = OrderWork(practice(Library(tmp_path), 1.0, tmp_path / JOURNAL_NAME), Words("en"))
    work.board.phase, work.board.request = Phase.ASKED, Asked(request_kind, "do it", None)
    assert work.theirs
    scan = work.enter("")
    assert scan is not None
    assert scan.key == "scan.theirs"
