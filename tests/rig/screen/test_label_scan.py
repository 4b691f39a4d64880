"""The code of a label in the scan field: it gives the serial, and nothing that cannot be trusted is taken."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rig.papers.label_code import EOT, GS, RS, UnitCode, code_text
from rig.screen.view.board import Phase
from rig.screen.view.serials import Read, read_scan
from rig.screen.view.wording import Words
from rig.screen.work import OrderWork
from tests.rig.screen.shop import Shop, bench_at, order_text, run, shop_at

KEYS = {GS: "ctrl+right_square_bracket", RS: "ctrl+circumflex_accent", EOT: "ctrl+d", " ": "space"}
PRINTED = st.text(st.characters(min_codepoint=0x20, max_codepoint=0x7E), min_size=1, max_size=30)


def code(serial: str, order: str = "QOC-0190") -> str:
    return code_text(UnitCode(serial, order, "barrel-18-rail", date(2026, 1, 5)))


async def scan_label(shop: Shop, text: str) -> None:
    """What a scanner sends, its control characters as a keyboard would."""
    await shop.pilot.press(*(KEYS.get(one, one) for one in text), "enter")


def test_the_code_of_a_label_names_its_unit(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            await scan_label(shop, code("QOC18-0042"))
            await shop.phase_is(Phase.FIT)
            assert shop.work.board.serial == "QOC18-0042"

    run(main())


@pytest.mark.parametrize("separators", [("<GS>", "<RS>", "<EOT>"), ("^]", "^^", "^D"), (GS, RS, EOT)])
def test_scanners_that_spell_the_separators_are_understood(separators: tuple[str, ...]) -> None:
    spelled = code("QOC18-0042")
    for sign, text in zip((GS, RS, EOT), separators, strict=True):
        spelled = spelled.replace(sign, text)
    assert read_scan(spelled) == Read("QOC18-0042", "QOC-0190")


@pytest.mark.parametrize(
    ("scanned", "said"),
    [
        (code("QOC18-0042").replace(GS, "").replace(RS, ""), "scan.unreadable"),
        (code("QOC18-0042", order="QOC-0777"), "scan.other-order"),
        (code("QOC18-0099"), "scan.unknown"),
    ],
)
def test_a_label_that_cannot_be_trusted_or_is_none_of_ours_begins_nothing(
    scanned: str, said: str, tmp_path: Path
) -> None:
    path = tmp_path / "order.toml"
    path.write_text(order_text(3), encoding="utf-8")
    work = OrderWork(bench_at(tmp_path).order(str(path)), Words("en"))
    scan = work.enter(scanned)
    assert scan is not None
    assert (scan.serial, scan.key) == (None, said)
    assert not work.running


def test_separators_by_themselves_type_nothing(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            await shop.keys("4", *KEYS.values(), "1", "enter")
            await shop.shows("4 1 is no unit")  # of them all only the space is text

    run(main())


@given(serial=PRINTED)
def test_whatever_is_no_label_is_taken_as_it_was_typed(serial: str) -> None:
    read = read_scan(serial)
    assert read.why or read.text == serial.strip()
