"""The details of a unit: why it got its verdict, and its label once more."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from rig.decisions import Decision, decide
from rig.events import DocumentMade, Verdict
from rig.screen.view.board import Phase
from tests.rig.recorded import change
from tests.rig.screen.shop import Shop, run, shop_at

REFUSES = '[[unit]]\nfaults = [{ kind = "refuses-teach" }]'
SILENT = '[[unit]]\nfaults = [{ kind = "led-dark" }]'
LP = """#!{python}
import hashlib
import sys
open({log!r}, "wb").write(sys.stdin.buffer.read())
print("request id is desk-7 (1 file)")
"""


async def details(shop: Shop) -> None:
    """The details of the first unit, once it has its verdict and is out of the nest."""
    await shop.unit("41")
    await shop.keys("enter")
    await shop.phase_is(Phase.SCAN, Phase.ASIDE)
    await shop.until(lambda: shop.verdicts, "the verdict on record")
    await shop.keys("f4", *"0041")
    await shop.shows("search > 0041")
    await shop.keys("enter")
    await shop.shows("Unit QOC18-0041")


def test_a_verdict_is_explained_from_the_record(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, bench=REFUSES) as shop:
            await details(shop)
            await shop.keys("f7")
            await shop.shows("Why: unit QOC18-0041")
            assert "why not undecided: its own LED shows the refusal" in shop.text
            assert "it agrees" in shop.text
            await shop.keys("end")
            await shop.shows("rule")
            assert "F7 explain" not in shop.text
            await shop.keys("escape")
            await shop.shows("F7 explain")

    run(main())


def test_a_decision_by_hand_stands_beside_the_verdict_of_the_bench(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path, bench=SILENT) as shop:
            await details(shop)
            assert "? undecided" in shop.text
            assert "by hand" not in shop.text
            await shop.keys("escape")
            decide(shop.journal, "QOC18-0041", Decision(Verdict.GOOD, "Maren", "Tobias", "LED seen by eye"))
            await shop.keys("enter")
            await shop.shows("decided by hand: + good")
            assert "? undecided" in shop.text  # the verdict of the bench stays
            assert "by Maren, released by Tobias" in shop.text
            assert "LED seen by eye" in shop.text

    run(main())


def test_a_record_that_does_not_lead_to_its_verdict_is_told_aloud(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            await details(shop)
            change(
                shop.journal,
                "UPDATE entry SET body = replace(body, 'true', 'false') WHERE kind = 'check-done'",
            )
            await shop.keys("f7")
            await shop.shows("THE RECORD DOES NOT LEAD TO WHAT IT SAYS")

    run(main())


def test_a_label_goes_to_the_printer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    printed = tmp_path / "printed.pdf"
    lp = tmp_path / "bin" / "lp"
    lp.parent.mkdir()
    lp.write_text(LP.format(python=sys.executable, log=str(printed)), encoding="utf-8")
    lp.chmod(0o755)
    monkeypatch.setenv("PATH", str(lp.parent))

    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            await details(shop)
            await shop.keys("f9")
            await shop.shows("Label printed: request id is desk-7")
            (made,) = shop.recorded(DocumentMade)
            assert made.serial == "QOC18-0041"
            assert made.event == DocumentMade(
                "label", hashlib.sha256(printed.read_bytes()).hexdigest(), "", "request id is desk-7 (1 file)"
            )
            await shop.keys("escape", "enter", *["pagedown"] * 3)
            await shop.shows("label made")  # among its events when it is looked at again

    run(main())
    assert "QOC18-0041" in PdfReader(printed).pages[0].extract_text()


def test_without_a_printer_a_label_is_saved(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))

    async def main() -> None:
        async with shop_at(tmp_path, bench=REFUSES, size=(200, 60)) as shop:
            await details(shop)
            await shop.keys("f9")
            await shop.shows("Label saved: ")
            assert "no printing" in shop.text

    run(main())
    (saved,) = (tmp_path / "labels").iterdir()
    assert "DO NOT USE" in PdfReader(saved).pages[0].extract_text().upper()


def test_a_unit_without_a_verdict_has_neither(tmp_path: Path) -> None:
    async def main() -> None:
        async with shop_at(tmp_path) as shop:
            await shop.keys("f4", "enter")
            await shop.shows("nothing recorded yet")
            assert "explain" not in shop.text
            await shop.keys("f7", "f9")
            await shop.pilot.pause(0.1)
            assert "Unit QOC18-0041" in shop.rows[0]

    run(main())
