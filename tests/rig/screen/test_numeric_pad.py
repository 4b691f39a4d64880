"""A numeric pad alone: digits and Enter work through an order, whatever comes; and no scan does what they do."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path
from typing import cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.screen.pad import ACTS, NAMES_NEXT, NumericPad
from rig.screen.view.board import Phase
from rig.screen.working import WorkingScreen
from tests.rig.screen.shop import Shop, run, shop_at

REFUSES = '[[unit]]\nfaults = [{ kind = "refuses-teach" }]\n[[unit]]'


async def _typed(shop: Shop, *lines: str) -> None:
    """Lines that a person types, who reads what is said before Enter alone."""
    for text in lines:
        await shop.pilot.pause(0 if text else 0.32)
        await shop.scan(text)


async def _trip(shop: Shop) -> None:
    await _typed(shop, "41")
    await shop.phase_is(Phase.FIT)
    shop.app.action_command("stop")
    await shop.phase_is(Phase.TRIPPED)


def test_a_reset_takes_two_steps_that_the_screen_names(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=2) as shop:
            await _trip(shop)
            await shop.shows("0 Enter and Enter")
            assert "0 Enter without F keys" in shop.text
            await _typed(shop, "0")
            await shop.shows("Enter alone: reset")
            assert shop.phase is Phase.TRIPPED
            await _typed(shop, "")
            await shop.phase_is(Phase.FIT)
            assert shop.work.board.serial == "QOC18-0041"
            assert "without F keys" not in shop.text  # Enter alone says here that the unit is in
            await _typed(shop, "")
            await shop.phase_is(Phase.TAKE_OUT)

    run(main())


ENDS = st.integers(1, 3)
SCANS = st.lists(
    st.tuples(st.sampled_from(["0", "00", "02", "41", " ", "F2"]) | st.text(min_size=1, max_size=4), ENDS)
)


@given(SCANS, st.floats(0.0, 10.0), st.integers(1, 30))
def test_no_scans_do_it_whatever_they_spell_and_however_many_enters_they_end_in(
    scans: list[tuple[str, int]], apart_s: float, character_ms: int
) -> None:
    pad, now_s, done = NumericPad(), 0.0, []
    for text, enters in scans:
        now_s += apart_s
        for many in range(1, len(text) + 1):
            now_s += character_ms / 1000
            pad.typed(text[:many])
        for line in (text, *[""] * (enters - 1)):
            now_s += character_ms / 1000
            pad.names(line, ACTS, now_s)
            done.append(pad.does(line, ACTS, now_s) if line != NAMES_NEXT else "")
    assert not any(done)


def test_a_scanner_that_ends_in_two_enters_resets_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nor does it on a computer that is held up between the two: what counts is when they came."""

    async def main() -> None:
        async with shop_at(tmp_path, units=2) as shop:
            await _trip(shop)
            pad = cast("WorkingScreen", shop.app.screen)._pad
            names = pad.names

            def held_up(line: str, acts: Sequence[str], now_s: float) -> str:
                time.sleep(0.35)
                return names(line, acts, now_s)

            monkeypatch.setattr(pad, "names", held_up)
            for _ in range(2):
                await shop.pilot.pause(0.32)
                await shop.scan("0", enters=2)
            await shop.pilot.pause(0.05)
            assert shop.phase is Phase.TRIPPED

    run(main())


def test_an_order_from_the_list_to_the_end_of_the_program(tmp_path: Path) -> None:
    """Opened, a bad unit put aside, another person, left: by digits and Enter."""

    async def main() -> None:
        async with shop_at(tmp_path, units=2, bench=REFUSES, open_order=False) as shop:
            await _typed(shop, "0190")
            await shop.shows("Scan or type the serial")
            await _typed(shop, "41")
            await shop.phase_is(Phase.FIT)
            await _typed(shop, "")
            await shop.phase_is(Phase.TAKE_OUT)
            await _typed(shop, "")
            await shop.phase_is(Phase.ASIDE)
            await _typed(shop, "0", "42")  # neither zero nor another unit puts it aside
            assert shop.phase is Phase.ASIDE
            await _typed(shop, "41")
            await shop.phase_is(Phase.SCAN)
            await _typed(shop, "0", "0")
            await shop.shows("Enter alone: sign in")
            await _typed(shop, "", "3107")
            await shop.until(lambda: shop.app.person == "3107", "signed in")
            await _typed(shop, "0", "0", "0")
            await shop.shows("Enter alone: leave")
            await _typed(shop, "")
            await shop.until(lambda: shop.app._exit, "the end")

    run(main())


def test_what_was_named_is_forgotten_when_something_else_is_typed_or_after_a_while() -> None:
    pad = NumericPad()
    assert pad.names("0", ACTS, 0.0) == "begin"
    assert pad.does("", ACTS, 1.0) == "begin"
    assert pad.does("", ACTS, 2.0) == ""
    pad.names("0", ACTS, 10.0)
    pad.typed("4")
    pad.typed("")
    assert pad.does("", ACTS, 11.0) == ""
    pad.names("0", ACTS, 20.0)
    assert pad.does("", ACTS, 27.0) == ""
    pad.names("0", ACTS, 30.0)
    assert pad.does("", ("orders",), 31.0) == ""  # no more what this moment allows


def test_a_code_of_blanks_does_not_say_done(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, units=1) as shop:
            await shop.scan("41")
            await shop.phase_is(Phase.FIT)
            await shop.scan("  ")
            await shop.pilot.pause(0.1)
            assert shop.phase is Phase.FIT
            await shop.keys("enter")
            await shop.phase_is(Phase.TAKE_OUT)

    run(main())
