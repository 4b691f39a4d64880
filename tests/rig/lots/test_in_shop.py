"""The lots of several benches in the shop's PostgreSQL: one history decides how the next lot is inspected."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from rig.events import LotClosed, LotOpened
from rig.library import Section
from rig.noting import note
from rig.store.forwarding import send_by_hand
from sequences.library import load_receiving
from tests.cli.shop import Shop, opened_elsewhere
from tests.postgres import server
from tests.rig.lots.lots import opened
from tests.rig.lots.test_supplier import closed

ENTERED = ("--supplier", "Hazelbourne", "--note", "DN-9", "--type", "barrel-18-rail", "--quantity", "120")


def rejected_at(bench: Path, number: str, url: str) -> None:
    """A bench whose record holds one lot, rejected, and has gone to the shop."""
    base: LotOpened = opened(load_receiving(Section.RECEIVING.shipped()["barrel-18-rail"]), 120).opened
    decision: LotClosed = closed(number, "rejected", defective=1)
    journal = bench / "journal.sqlite3"
    note(journal, number, [(number, "", dataclasses.replace(base, lot=number)), (number, "", decision)])
    send_by_hand(journal, url)


def test_lots_of_two_benches_tighten_the_next_of_a_third(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shop: Shop = opened_elsewhere(tmp_path, monkeypatch, capsys)
    with server() as postgres, postgres.database("lots_test") as url:
        for number in ("L-1", "L-2"):
            rejected_at(tmp_path / number, number, url)
        monkeypatch.setenv("TEACHRIG_SHOP_URL", url)
        assert shop.run_json("lot", "supplier", "Hazelbourne", "--shop")[1][0]["inspection"] == "tightened"
        assert {one["lot"] for one in shop.run_json("lot", "show", "--shop")[1]} == {"L-1", "L-2"}
        assert shop.run_json("lot", "open", "L-3", *ENTERED, "--shop")[1]["inspection"] == "tightened"
        assert shop.run_json("lot", "open", "L-4", *ENTERED)[1]["inspection"] == "normal"
        code, _, said = shop.run("lot", "open", "L-1", *ENTERED, "--shop")
    assert (code, "lot L-1 is there already" in said) == (2, True)
