"""`verify`: units are checked without being taught, and held against their own earlier record."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from rig.events import (
    AnswerSeen,
    ContactDue,
    ContactEnded,
    EdgeMeasured,
    OrderStarted,
    Purpose,
    StepStarted,
    UnitJudged,
)
from rig.journal import read_journal
from rig.library import Section
from rig.session import JOURNAL_NAME
from sequences.library import shipped_orders
from tests.cli.shop import Shop, opened

# Two sound units and one that reads 12 mm too far by now, so that it switches 12 mm too near.
CAME_BACK = """
title = "Units that came back"
endless = true
[[unit]]
count = 2
[[unit]]
faults = [{ kind = "drifted", offset_mm = 12.0 }]
"""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shop:
    home = tmp_path / "home"
    home.mkdir()
    monkeypatch.setenv("TEACHRIG_DATA", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "120")
    shop = opened(home, monkeypatch, capsys)
    shop.keep(Section.BENCHES, "came-back", CAME_BACK)
    text = re.sub(
        r"^quantity = .*",
        "quantity = 3",
        shipped_orders()["tipper-point-no"].read_text(encoding="utf-8"),
        flags=re.MULTILINE,
    )
    shop.keep(Section.ORDERS, "three", text)
    shop.keep(
        Section.ORDERS, "three-measured", text.replace('"guarded"', '"guarded"\nmethod = "measured"', 1)
    )
    return shop


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "data" / JOURNAL_NAME


def last_edges(journal: Path, serial: str) -> list[EdgeMeasured]:
    """What was found last of the only edge in each run: it may have been measured on."""
    found: list[EdgeMeasured] = []
    edge: EdgeMeasured | None = None
    for one in read_journal(journal, serial=serial):
        if isinstance(one.event, EdgeMeasured):
            edge = one.event
        elif isinstance(one.event, UnitJudged) and edge is not None:
            found.append(edge)
    return found


class TestWithoutTeaching:
    @pytest.mark.parametrize("order", sorted(shipped_orders()))
    def test_units_that_are_set_are_good_and_no_contact_is_ever_made(
        self, shop: Shop, journal: Path, order: str
    ) -> None:
        code, told = shop.run_json("verify", order)
        assert code == 0
        assert told["counts"]["bad"] == told["counts"]["undecided"] == 0
        assert all(unit["contacts"] == [] for unit in told["units"])
        events = [one.event for one in read_journal(journal)]
        assert [
            one for one in events if isinstance(one, StepStarted | ContactDue | ContactEnded | AnswerSeen)
        ] == []
        assert [one.purpose for one in events if isinstance(one, OrderStarted)] == [Purpose.VERIFY]
        assert sum(isinstance(one, UnitJudged) for one in events) == len(told["units"])

    def test_a_unit_that_has_drifted_is_bad_and_ends_with_1(self, shop: Shop) -> None:
        code, out, err = shop.run("verify", "three", "--bench", "came-back")
        assert code == 1
        assert "SIMULATED BENCH" in err
        assert "verified, not taught" in out
        assert "2 good, 1 bad, 0 undecided" in out
        assert "QOC18-0043 x bad: set point too near" in out
        assert "contacts" not in out

    def test_units_that_come_otherwise_are_taken_as_they_come(self, shop: Shop) -> None:
        came = 'title = "x"\nendless = true\n[[unit]]\narrives = { mode = "full-range" }\n'
        shop.keep(Section.BENCHES, "factory", came)
        code, told = shop.run_json("verify", "three", "--bench", "factory")
        assert code == 1
        assert told["counts"]["bad"] == 3

    def test_a_trip_ends_with_3(self, shop: Shop) -> None:
        assert shop.run("verify", "three", "--bench", "stop")[0] == 3

    def test_bad_input_is_that_of_run(self, shop: Shop) -> None:
        code, out, err = shop.run("verify", "tree")
        assert (code, out) == (2, "")
        assert "did you mean three" in err

    def test_a_verified_unit_can_be_explained(self, shop: Shop) -> None:
        shop.run("verify", "three", "--bench", "came-back")
        code, out, _ = shop.run("explain", "QOC18-0043")
        assert code == 0
        assert "verified, not taught 2026-" in out
        assert "\nteaching\n" not in out
        assert "it agrees" in out


class TestDrift:
    def test_without_an_earlier_record_it_is_said_so(self, shop: Shop) -> None:
        _, out, _ = shop.run("verify", "three")
        assert out.count("nothing earlier") == 3
        assert "what has moved" not in out
        _, told = shop.run_json("verify", "three", "--data", str(shop.home / "elsewhere"))
        assert [unit["drift"] for unit in told["units"]] == [None] * 3

    def test_positions_that_read_the_same_and_one_that_does_not(self, shop: Shop) -> None:
        shop.run("run", "three")
        _, out, _ = shop.run("verify", "three", "--bench", "came-back")
        assert re.search(r"QOC18-0041 .* same readings ", out)
        assert re.search(r"QOC18-0043 .* 1 of 4 readings, MOVED ", out)
        assert re.search(
            r"QOC18-0043 +outer set point not too far in, 393.3 mm +on +off +2026-01-05 07:0\d QOC-0101", out
        )

    def test_measured_edges_with_the_uncertainty_of_the_difference(self, shop: Shop, journal: Path) -> None:
        shop.run("run", "three-measured")
        _, told = shop.run_json("verify", "three-measured", "--bench", "came-back")
        for unit in told["units"]:
            then, now = last_edges(journal, unit["serial"])
            operate = unit["drift"]["points"][0]
            assert operate["point"] == "operate point, outer"
            assert operate["now_mm"] - operate["then_mm"] == pytest.approx(now.operate_mm - then.operate_mm)
            assert operate["expanded_mm"] == pytest.approx(
                (then.operate_u_mm**2 + now.operate_u_mm**2) ** 0.5
            )
            assert operate["changed"] is (abs(now.operate_mm - then.operate_mm) > operate["expanded_mm"])
            # The others come back set to 400 mm sharp, not to where this bench taught them.
            assert operate["changed"] or unit["serial"] != "QOC18-0043"
        moved_mm = operate["now_mm"] - operate["then_mm"]
        assert moved_mm == pytest.approx(-12, abs=2)

    def test_in_the_table_each_unit_tells_how_far_it_has_moved(self, shop: Shop) -> None:
        shop.run("run", "three-measured")
        _, out, _ = shop.run("verify", "three-measured", "--bench", "came-back")
        assert re.search(r"QOC18-0041 +\+ good +proven +[+-]\d\.\d\d ± \d\.\d\d mm +\d", out)
        assert re.search(r"QOC18-0043 +x bad +set point off +-1\d\.\d\d ± \d\.\d\d mm, MOVED", out)
        assert re.search(r"QOC18-0043 +operate point, outer +(39|40)\d\.\d\d +38\d\.\d\d +-1\d\.\d\d", out)

    def test_the_latest_record_that_can_be_compared_counts(self, shop: Shop) -> None:
        shop.run("run", "three-measured")
        shop.run("run", "three")
        # Nothing that tells of an edge is read at the same positions in both ways of proving a unit.
        _, told = shop.run_json("verify", "three-measured")
        assert all("point" in unit["drift"]["points"][0] for unit in told["units"])
        _, told = shop.run_json("verify", "three")
        assert all("requirement" in unit["drift"]["points"][0] for unit in told["units"])

    def test_of_several_records_the_latest_counts(self, shop: Shop) -> None:
        shop.run("run", "three")
        for said in ("1 of 4 readings, MOVED", "same readings"):
            _, out, _ = shop.run("verify", "three", "--bench", "came-back")
            assert re.search(rf"QOC18-0043 .* {said} ", out)

    def test_an_order_nobody_came_for_ends_without_a_word_on_drift(self, shop: Shop) -> None:
        gone = 'title = "x"\nendless = true\n[[unit]]\n[[fault]]\nkind = "person-silent"\n'
        shop.keep(Section.BENCHES, "gone", gone)
        code, out, _ = shop.run("verify", "three", "--bench", "gone")
        assert code == 1
        assert "3 not begun" in out
