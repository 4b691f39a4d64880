"""Two persons decide about a unit that the bench was undecided about; its own verdict stays, and both are shown."""

from __future__ import annotations

from pathlib import Path

import pytest
from pypdf import PdfReader

from rig.events import Purpose, Verdict
from rig.session import JOURNAL_NAME
from rig.typed import LONGEST_NAME
from tests.cli.shop import Shop
from tests.rig.finding.written import Batch, Done, write

WHO = ("--by", "Maren", "--released-by", "Tobias")


@pytest.fixture
def written(shop: Shop, tmp_path: Path) -> Shop:
    write(
        tmp_path / "data" / JOURNAL_NAME,
        Batch(
            "QOC-0101",
            [
                Done("QOC-1", "2026-01-05T07:00:00.000Z", Verdict.UNDECIDED, "near-tolerance"),
                Done("QOC-2", "2026-01-05T07:01:00.000Z", Verdict.GOOD),
                Done("QOC-3", "2026-01-05T07:02:00.000Z", Verdict.UNDECIDED, "interrupted"),
                Done("QOC-4", "2026-01-05T07:03:00.000Z", None),
            ],
        ),
        Batch(
            "QOC-9", [Done("QOC-5", "2026-01-06T07:00:00.000Z", Verdict.UNDECIDED)], purpose=Purpose.SURVEY
        ),
    )
    return shop


def test_both_verdicts_stand_and_the_unit_counts_as_decided(written: Shop) -> None:
    code, _, err = written.run("decide", "QOC-1", "good", *WHO, "--reason", "measured again by hand")
    assert code == 0
    assert "the bench's verdict (undecided) stays in the record" in err
    _, told = written.run_json("units", "QOC-1")
    assert [(row["verdict"], row["by_hand"]) for row in told["units"]] == [("undecided", "good")]
    _, told = written.run_json("tally")
    assert (told["all"]["good"], told["all"]["undecided"], told["all"]["by_hand"]) == (2, 1, 1)
    _, told = written.run_json("unit", "QOC-1")
    (decision,) = told["attempts"][0]["decisions"]
    assert (decision["person"], decision["released_by"], decision["why"]) == (
        "Maren",
        "Tobias",
        "measured again by hand",
    )
    assert "decided good by Maren, released by Tobias" in " ".join(written.run("unit", "QOC-1")[1].split())
    assert written.run("audit")[0] == 0


def test_a_later_decision_stands_instead_and_the_earlier_one_is_still_told(written: Shop) -> None:
    written.run("decide", "QOC-1", "good", *WHO, "--reason", "looked fine")
    assert written.run("decide", "QOC-1", "bad", *WHO, "--reason", "dropped")[0] == 0
    _, told = written.run_json("unit", "QOC-1")
    assert [(one["verdict"], one["stands"]) for one in told["attempts"][0]["decisions"]] == [
        ("good", 0),
        ("bad", 1),
    ]
    assert written.run_json("units", "QOC-1")[1]["units"][0]["by_hand"] == "bad"


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (
            ("QOC-1", "good", "--by", "Maren", "--released-by", " maren\t"),
            "cannot release what they have decided",
        ),
        (("QOC-1", "good", "--by", "Stra\u00dfe", "--released-by", "STRASSE"), "cannot release what"),
        (("QOC-1", "good", "--by", "", "--released-by", "Tobias"), "--by: '' is no name"),
        (("QOC-1", "good", "--by", "\x1d\x1b", "--released-by", "Tobias"), "is no name"),
        (("QOC-1", "good", "--by", "x" * (LONGEST_NAME + 1), "--released-by", "Tobias"), "too long"),
        (("QOC-2", "bad", *WHO), "is good: only one that the bench is undecided about"),
        (("QOC-3", "good", *WHO), "cannot be good: work on it was not finished"),
        (("QOC-4", "good", *WHO), "is in work"),
        (("QOC-5", "good", *WHO), "was last surveyed"),
        (("QOC-6", "good", *WHO), "no unit QOC-6"),
    ],
)
def test_what_persons_are_not_asked_is_refused(written: Shop, words: tuple[str, ...], why: str) -> None:
    code, _, err = written.run("decide", *words, "--reason", "because")
    assert code == 2
    assert why in err
    assert written.run_json("tally")[1]["all"]["by_hand"] == 0


def test_a_decision_needs_a_reason(written: Shop) -> None:
    assert written.run("decide", "QOC-1", "good", *WHO, "--reason", " \x07")[0] == 2


def test_an_interrupted_unit_may_still_be_given_up(written: Shop) -> None:
    assert written.run("decide", "QOC-3", "bad", *WHO, "--reason", "its cable is cut")[0] == 0


def test_label_and_certificate_say_that_it_was_decided_by_hand(shop: Shop, tmp_path: Path) -> None:
    shop.run("demo", "--units", "18")
    (unit,) = shop.run_json("units", "--reason", "led-silent")[1]["units"]
    serial = unit["serial"]
    assert shop.run("decide", serial, "good", *WHO, "--reason", "LED seen by eye")[0] == 0
    code, _, err = shop.run("label", serial, "--out", "label.pdf")
    assert (code, err) == (0, "1 label unit-roll:\n")
    label = " ".join(PdfReader("label.pdf").pages[0].extract_text().split())
    assert "SIMULATED good, decided by hand" in label
    shop.run("certificate", serial, "--out", str(tmp_path))
    paper = " ".join(PdfReader(tmp_path / f"unit-{serial}.pdf").pages[0].extract_text().split())
    assert "Decided by hand: good, by Maren, released by Tobias: LED seen by eye" in paper
    assert "The bench itself was undecided" in paper
    assert shop.run("report", unit["order"], "--out", str(tmp_path))[0] == 0
    (report,) = tmp_path.glob("report-*.pdf")
    told = " ".join(" ".join(page.extract_text() for page in PdfReader(report).pages).split())
    _, tally = shop.run_json("tally", "--order", unit["order"])
    good = tally["all"]["good"] - 1  # there the decision counts
    assert f"{good} of {tally['all']['units']} good by the bench, 1 more by hand" in told
    assert "1 good, of the" in told
    assert "LED seen by eye" in told


def test_who_works_is_in_the_record_of_each_unit(shop: Shop) -> None:
    code, _, _ = shop.run("run", "tipper-point-no", "--by", "  Maren\tHolt\r")
    assert code == 0
    assert {row["person"] for row in shop.run_json("units")[1]["units"]} == {"Maren Holt"}
    assert shop.run("run", "tipper-point-no", "--by", "\x1b")[0] == 2
