"""`explain`: a decision is followed from the readings to the verdict, from the record alone, and worked out again."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from rig.library import Section
from rig.session import JOURNAL_NAME
from sequences.library import shipped_orders
from tests.cli.shop import Shop
from tests.rig.recorded import as_if_never, change

GOOD, FAR, DEAD, REFUSING = "QOC18-0041", "QOC18-0044", "QOC18-0047", "QOC18-0048"


@pytest.fixture
def shop(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> Shop:
    monkeypatch.setenv("COLUMNS", "120")
    return shop


@pytest.fixture
def record(shop: Shop, tmp_path: Path) -> Path:
    """The record of one order, sound units and faulty ones."""
    shop.run("run", "tipper-point-no", "--bench", "demo")
    return tmp_path / "data" / JOURNAL_NAME


def measured_order(shop: Shop, number: str = "QOC-0199") -> None:
    text = shipped_orders()["tipper-point-no"].read_text(encoding="utf-8")
    text = re.sub(r"^quantity = .*", "quantity = 2", text, flags=re.MULTILINE)
    text = text.replace("QOC-0101", number).replace(
        'rule = "guarded"', 'rule = "guarded"\nmethod = "measured"'
    )
    shop.keep(Section.ORDERS, "measured", text)


class TestFollowing:
    @pytest.mark.usefixtures("record")
    def test_a_good_unit_from_what_was_asked_to_why_it_is_good(self, shop: Shop) -> None:
        code, out, err = shop.run("explain", GOOD)
        assert (code, err) == (0, "")
        assert out.startswith(
            f"unit {GOOD}: good (proven)\norder QOC-0101 for Quillmere Orchard Co-op; set 2026-"
        )
        for heading in ("setting", "set points", "inspection", "teaching", "checks", "rule", "verdict"):
            assert f"\n{heading}\n" in out, heading
        for said in (
            "single-point, NO, PNP",
            "set point 400 mm, tolerance 8 mm to either side",
            "guarded acceptance",
            "The same verdict, good, for the same reason, by the same steps: it agrees.",
        ):
            assert said in out, said

    @pytest.mark.usefixtures("record")
    def test_every_contact_with_its_length_and_what_was_allowed(self, shop: Shop) -> None:
        _, out, _ = shop.run("explain", GOOD)
        contacts = re.findall(
            r"teach wire to (L[+-]) +([0-9.]+) s, LED flashing 2 Hz +1 to 5 s, LED flashing 2 Hz", out
        )
        assert [rail for rail, _ in contacts] == ["L+", "L-"]
        assert all(1 <= float(length_s) <= 5 for _, length_s in contacts)

    @pytest.mark.usefixtures("record")
    def test_every_reading_with_what_it_had_to_be(self, shop: Shop) -> None:
        _, out, _ = shop.run("explain", FAR)
        readings = re.findall(r"at ([0-9.]+) mm, from \w+ +at L.: (on|off) +(on|off) +(\S.*\S)", out)
        assert readings[-2:] == [
            ("406.7", "on", "off", "outer set point not too far out"),
            ("409.3", "on", "off", "the same, once more"),
        ]

    @pytest.mark.usefixtures("record")
    def test_the_numbers_of_a_bad_unit_are_those_that_decided(self, shop: Shop) -> None:
        _, out, _ = shop.run("explain", FAR)
        assert "outer set point not too far out: x = P + T - U = 400 + 8 - 1.24813 = 406.752 mm" in out
        assert "y = P + T + U = 400 + 8 + 1.24813 = 409.248 mm" in " ".join(out.split())
        assert "not too far in: x" not in out
        assert "inside its zone: x" not in out

    @pytest.mark.usefixtures("record")
    def test_in_full_the_guard_is_worked_out_from_every_source(self, shop: Shop) -> None:
        _, short, _ = shop.run("explain", GOOD)
        _, full, _ = shop.run("explain", GOOD, "--full")
        assert "repeat accuracy of the unit" not in short
        assert "repeat accuracy of the unit" in full
        assert "U = k * u" in full
        assert "U = k * u" not in short

    @pytest.mark.usefixtures("record")
    @pytest.mark.parametrize(
        ("serial", "why"),
        [
            (FAR, "why not undecided  it lies beyond its limit by more than the guard"),
            (DEAD, "why not bad    a plug that is not seated shows the same as a dead unit"),
            (REFUSING, "why not undecided  its own LED shows the refusal"),
            (GOOD, "why not bad        nothing that was read is beyond a limit"),
        ],
    )
    def test_why_it_is_none_of_the_other_verdicts(self, shop: Shop, serial: str, why: str) -> None:
        assert why in shop.run("explain", serial)[1]

    def test_a_measured_unit_with_every_answer_and_every_limit(self, shop: Shop) -> None:
        measured_order(shop)
        assert shop.run("run", "measured")[0] == 0
        code, out, _ = shop.run("explain", GOOD)
        assert code == 0
        assert re.search(r"operate point: target at mm, detected: [0-9.]+ (yes|no), ", out)
        assert re.search(r"operate point, outer +\d+\.\d+ ± 0\.\d+ mm: good from .* 392 to 408 mm +good", out)
        assert re.search(r"good from: a = L \+ U = 392 \+ 0\.\d+ = 39[23]\.\d+ mm", out)
        assert "all 10 requirements of the plan were held against what was measured" in out
        assert "it agrees" in out

    @pytest.mark.usefixtures("record")
    @pytest.mark.parametrize("width", [80, 120])
    def test_no_line_is_wider_than_the_terminal(
        self, shop: Shop, monkeypatch: pytest.MonkeyPatch, width: int
    ) -> None:
        monkeypatch.setenv("COLUMNS", str(width))
        measured_order(shop)
        shop.run("run", "measured")
        for serial in (GOOD, FAR, DEAD):
            for more in ([], ["--full"]):
                _, out, _ = shop.run("explain", serial, *more)
                assert [line for line in out.splitlines() if len(line) > width] == []

    @pytest.mark.usefixtures("record")
    def test_for_a_program_the_same_as_json(self, shop: Shop) -> None:
        code, told = shop.run_json("explain", FAR)
        assert code == 0
        assert told["agrees"] is True
        assert told["verdict"] == told["worked_out"]
        assert told["verdict"]["verdict"] == "bad"
        assert told["started"]["sensor_type"] == "barrel-18-rail"
        assert {row["part"] for row in told["rows"]} == {"inspection", "teaching", "checks"}
        assert [label for label, _ in told["why"]] == ["why bad", "why not good", "why not undecided"]
        assert any(chapter["title"].startswith("uncertainty") for chapter in told["numbers"])


class TestAltered:
    @pytest.mark.parametrize(
        "statement",
        [
            "UPDATE entry SET body = replace(body, '\"bad\"', '\"good\"') WHERE kind = 'unit-judged'",
            "UPDATE entry SET body = replace(body, 'at L+', 'at L-') WHERE kind = 'output-read'",
            "UPDATE entry SET body = replace(body, '\"tolerance_mm\":8.0', '\"tolerance_mm\":20.0') "
            "WHERE kind = 'order-inputs'",
            "DELETE FROM entry WHERE kind = 'led-seen'",
        ],
    )
    def test_a_record_that_was_altered_is_said_aloud_and_ends_with_1(
        self, shop: Shop, record: Path, statement: str
    ) -> None:
        change(record, statement)
        code, out, _ = shop.run("explain", FAR)
        assert code == 1
        assert "THE RECORD DOES NOT LEAD TO WHAT IT SAYS" in out
        assert "it agrees" not in out
        code, told = shop.run_json("explain", FAR)
        assert (code, told["agrees"]) == (1, False)
        assert told["departures"] or told["verdict"] != told["worked_out"]

    def test_both_verdicts_and_both_versions_are_named(self, shop: Shop, record: Path) -> None:
        change(
            record, "UPDATE entry SET body = replace(body, '\"bad\"', '\"good\"') WHERE kind = 'unit-judged'"
        )
        _, out, _ = shop.run("explain", FAR)
        assert "recorded:   good, set point too far out" in out
        assert "worked out: bad, set point too far out" in out
        assert re.search(r"teachrig \S+ wrote it, this is teachrig", out)

    def test_a_record_that_has_lost_its_order(self, shop: Shop, record: Path) -> None:
        change(record, "DELETE FROM entry WHERE kind = 'order-inputs'")
        code, out, _ = shop.run("explain", FAR)
        assert code == 1
        assert "does not hold the order, the sensor type and the rig" in out
        assert shop.run_json("explain", FAR)[1]["rows"] == []

    def test_a_record_that_has_lost_its_begin(self, shop: Shop, record: Path) -> None:
        change(record, "DELETE FROM entry WHERE kind IN ('order-inputs', 'order-started')")
        code, out, _ = shop.run("explain", FAR)
        assert code == 1
        assert "order QOC-0101, 2026" in out
        assert "an unknown version wrote it" in out


class TestRuns:
    @pytest.mark.usefixtures("record")
    def test_the_last_run_is_shown_and_the_others_are_listed(self, shop: Shop) -> None:
        measured_order(shop)
        shop.run("run", "measured")
        _, out, _ = shop.run("explain", GOOD)
        assert re.search(
            r"\n  1  \S+ +QOC-0101  good +proven *\n  2  \S+ +QOC-0199  good +proven +shown here", out
        )
        _, told = shop.run_json("explain", GOOD)
        assert [(one["order"], one["shown"]) for one in told["runs"]] == [
            ("QOC-0101", False),
            ("QOC-0199", True),
        ]

    @pytest.mark.usefixtures("record")
    def test_another_run_by_its_order_or_its_number(self, shop: Shop) -> None:
        measured_order(shop)
        shop.run("run", "measured")
        assert shop.run_json("explain", GOOD, "--order", "QOC-0101")[1]["order"] == "QOC-0101"
        assert shop.run_json("explain", GOOD, "--run", "1")[1]["order"] == "QOC-0101"
        assert shop.run_json("explain", GOOD, "--run", "2")[1]["order"] == "QOC-0199"

    @pytest.mark.usefixtures("record")
    def test_an_only_run_needs_no_list(self, shop: Shop) -> None:
        assert "runs of this unit" not in shop.run("explain", GOOD)[1]

    @pytest.mark.usefixtures("record")
    @pytest.mark.parametrize(
        ("words", "said"),
        [
            (["--order", "QOC-0999"], "was never in work for order QOC-0999; allowed: QOC-0101"),
            (["--run", "2"], "has no run 2; allowed: 1 to 1"),
        ],
    )
    def test_a_run_that_is_not_there(self, shop: Shop, words: list[str], said: str) -> None:
        code, out, err = shop.run("explain", GOOD, *words)
        assert (code, out) == (2, "")
        assert said in err

    def test_a_unit_that_was_never_judged_is_told_so(self, shop: Shop, record: Path) -> None:
        as_if_never(
            record,
            f"DELETE FROM entry WHERE serial = '{GOOD}' AND number > "
            f"(SELECT number FROM entry WHERE serial = '{GOOD}' AND kind = 'contact-ended' LIMIT 1)",
        )
        code, out, _ = shop.run("explain", GOOD)
        assert code == 0
        assert out.startswith(f"unit {GOOD}: never judged\n")
        assert "contact-ended" in out.splitlines()[1]
        assert "No verdict is recorded, and what was read does not lead to one." in out


class TestSurveyed:
    def test_a_survey_is_worked_out_again_from_its_record(self, shop: Shop, tmp_path: Path) -> None:
        out_file = str(tmp_path / "copied.toml")
        words = ("barrel-18-rail", "--bench", "hopper-unit", "--serial", "QOC-1", "--out", out_file)
        assert shop.run("survey", *words)[0] == 0
        code, out, _ = shop.run("explain", "QOC-1")
        assert code == 0
        assert "surveyed 2026-" in out
        assert "it judges no unit" in out
        assert "at 142.0 mm, pulled to L-" in out
        assert "holds L+: PNP, NO" in out
        assert "differential travel" in out
        assert "The same verdict, good, for the same reason, by the same steps: it agrees." in out
        code, told = shop.run_json("explain", "QOC-1")
        assert (code, told["started"]["purpose"]) == (0, "survey")
        assert told["agrees"] is True
        assert any("zone begins at 14" in sentence for sentence in told["recognised_by"])
        assert {row["part"] for row in told["rows"]} >= {"search for the zone", "what it is set to"}


class TestUnknown:
    @pytest.mark.usefixtures("record")
    @pytest.mark.parametrize(
        ("given", "said"),
        [
            ("qoc18-0041", ", did you mean QOC18-0041?"),
            ("0052", ", did you mean QOC18-0052?"),
            ("QOC18-O052", ", did you mean QOC18-0052"),
            ("zz", "; it holds 12 units, from QOC18-0041 to QOC18-0052"),
            ("", "; it holds 12 units"),
            ("QOC\x1b[31m", "no unit QOC\\x1b[31m in the record"),
        ],
    )
    def test_an_unknown_serial_is_one_message_with_what_may_be_meant(
        self, shop: Shop, given: str, said: str
    ) -> None:
        code, out, err = shop.run("explain", given)
        assert (code, out) == (2, "")
        assert said in err
        assert len(err.splitlines()) == 1

    def test_no_record_at_all(self, shop: Shop) -> None:
        code, out, err = shop.run("explain", GOOD)
        assert (code, out) == (2, "")
        assert "no such journal" in err

    def test_a_file_that_is_no_record(self, shop: Shop, tmp_path: Path) -> None:
        (tmp_path / JOURNAL_NAME).write_text("not a journal, and long enough to be looked at" * 20)
        code, _, err = shop.run("explain", GOOD, "--data", str(tmp_path))
        assert code == 2
        assert "Traceback" not in err


@pytest.mark.usefixtures("record")
def test_nothing_but_the_record_is_asked(shop: Shop) -> None:
    measured_order(shop, "QOC-0101")
    text = (shop.home / "orders" / "measured.toml").read_text(encoding="utf-8")
    shop.keep(Section.ORDERS, "tipper-point-no", text.replace("at_mm = 400", "at_mm = 300"))
    _, told = shop.run_json("explain", FAR)
    assert told["agrees"] is True
    assert json.dumps(told).count("406.7") > 0
