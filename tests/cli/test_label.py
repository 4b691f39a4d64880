"""`teachrig label`: from the record to paper, each unit the label it deserves, and no unit a wrong one."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

from rig.events import DocumentMade, OrderInputs, Purpose, Verdict
from rig.journal import JournalError, read_journal
from rig.library import Section
from rig.papers.label_code import unit_code
from rig.planning.compile import make_plan
from sequences.order import Order
from tests.cli.printer import with_printing
from tests.cli.shop import Shop
from tests.rig.papers.shelf import SHIPPED, Shelf, printed, scanned, texts, with_serials

GOOD, BAD, UNDECIDED = Verdict
TIPPER = SHIPPED.read_order("tipper-point-no")[0]
THREE = with_serials(TIPPER, "Q-1", "Q-2", "Q-3")


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "data" / "journal.sqlite3")


def read(name: str) -> list[str]:
    """The serials of a file of labels, as scanned."""
    pages = printed(Path(name).read_bytes(), 203)
    return [unit_code(text).serial for page in pages for text in scanned(page)]


def files() -> list[str]:
    return sorted(os.listdir())


# Which label.


def test_good_units_get_their_label_and_the_others_one_that_warns(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD, "Q-2": BAD, "Q-3": UNDECIDED}, THREE)
    code, out, err = shop.run("label", "--order", "QOC-0101")
    assert code == 0
    assert out.splitlines() == ["labels-QOC-0101.pdf", "labels-QOC-0101-do-not-use.pdf"]
    assert "1 label unit-roll:" in err
    assert "2 labels do-not-use:" in err
    assert read("labels-QOC-0101.pdf") == ["Q-1"]
    assert read("labels-QOC-0101-do-not-use.pdf") == ["Q-2", "Q-3"]
    [good] = texts(Path("labels-QOC-0101.pdf").read_bytes())
    assert "DONOTUSE" not in good
    assert "400mm\u00b18mm" in good
    bad, undecided = texts(Path("labels-QOC-0101-do-not-use.pdf").read_bytes())
    assert "DONOTUSE" in bad
    assert "bad:setpointoff" in bad
    assert "DONOTUSE" in undecided
    assert "undecided:setpointoff" in undecided


def test_a_unit_without_a_verdict_gets_no_label_and_is_named(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD, "Q-2": None}, THREE)
    code, out, err = shop.run("label", "--order", "QOC-0101")
    assert code == 1
    assert out == "labels-QOC-0101.pdf\n"
    assert "no label for Q-2: it has no verdict" in err
    assert "no label for Q-3: not begun yet" in err
    assert read("labels-QOC-0101.pdf") == ["Q-1"]


def test_no_label_at_all_leaves_no_file(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": None}, THREE)
    assert shop.run("label", "Q-1")[:2] == (1, "")
    assert files() == []


@pytest.mark.parametrize(("then", "labelled"), [(BAD, "do-not-use"), (GOOD, "unit-roll"), (None, None)])
def test_the_last_run_of_a_unit_counts(
    shop: Shop, shelf: Shelf, then: Verdict | None, labelled: str | None
) -> None:
    """Every simulated run begins at the same moment, so only the order of entries tells which was last."""
    shelf.run({"Q-1": GOOD if then is not GOOD else BAD}, THREE)
    shelf.run({"Q-1": then}, THREE)
    code, told = shop.run_json("label", "Q-1")
    assert [batch["template"] for batch in told["labels"]] == ([labelled] if labelled else [])
    assert code == (0 if labelled else 1)


def test_a_label_says_what_the_order_said_when_the_unit_was_set(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD}, THREE)
    setting = THREE.setting.model_dump(mode="json") | {"at_mm": 300.0, "reference_designation": "=L9"}
    later = Order.model_validate(THREE.model_dump(mode="json") | {"setting": setting})
    shelf.run({"Q-2": GOOD}, later)
    shop.run("label", "Q-1", "Q-2")
    first, second = texts(Path("labels-Q-1.pdf").read_bytes())
    assert "400mm" in first
    assert "300mm" in second
    assert "=L9" in second


def test_a_unit_set_for_another_order_since_gets_that_ones_label(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD}, THREE)
    shelf.run({"Q-1": GOOD}, with_serials(TIPPER, "Q-1", number="QOC-0999"))
    code, _, err = shop.run("label", "--order", "QOC-0101")
    assert code == 1
    assert "no label for Q-1: it was last set for another order, QOC-0999" in err
    code, told = shop.run_json("label", "Q-1")
    assert (code, told["labels"][0]["units"][0]["order"]) == (0, "QOC-0999")


def test_a_survey_says_nothing_of_a_setting(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD}, THREE, purpose=Purpose.SURVEY)
    code, _, err = shop.run("label", "Q-1")
    assert code == 1
    assert "last surveyed" in err
    shelf.run({"Q-1": GOOD}, THREE, purpose=Purpose.VERIFY)
    assert shop.run("label", "Q-1")[0] == 0


def test_a_made_up_unit_is_called_so_on_its_label(shop: Shop) -> None:
    shop.run("run", "tipper-point-no", "--bench", "sound")
    shop.run("label", "--order", "QOC-0101")
    pages = texts(Path("labels-QOC-0101.pdf").read_bytes())
    assert len(pages) == 12
    assert all("SIMULATEDgood" in page for page in pages)
    assert read("labels-QOC-0101.pdf") == list(TIPPER.unit_serials())


def test_what_an_order_left_open_stands_on_the_label_as_it_was_proposed(shop: Shop, shelf: Shelf) -> None:
    order, sensor_type = SHIPPED.read_order("cold-store-need")
    assert not order.setting.is_whole
    shelf.run({order.unit_serials()[0]: GOOD}, order)
    shop.run("label", order.unit_serials()[0])
    [name] = files()
    [page] = texts(Path(name).read_bytes())
    plan = make_plan(order, sensor_type, SHIPPED.read_rig("simulated"))
    [(_, at_mm)] = plan.set_points
    assert "single-point" in page
    assert f"{at_mm:g}mm\u00b1{plan.tolerance_mm:g}mm" in page


def test_each_serial_once_however_often_it_was_scanned(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD, "Q-2": GOOD}, THREE)
    shop.run("label", "Q-2", "Q-1", "Q-2")
    assert read("labels-Q-2.pdf") == ["Q-2", "Q-1"]


# Templates.


def test_templates_are_chosen_by_use_and_own_ones_go_first(shop: Shop, shelf: Shelf) -> None:
    own = Section.LABELS.shipped()["do-not-use"].read_text(encoding="utf-8")
    mine = shop.keep(Section.LABELS, "do-not-use", own.replace('"DO NOT USE"', '"NICHT BENUTZEN"'))
    shelf.run({"Q-1": GOOD, "Q-2": BAD}, THREE)
    code, told = shop.run_json("label", "Q-1", "Q-2", "--template", "unit-sheet", "--out", "all.pdf")
    assert code == 0
    assert [batch["template"] for batch in told["labels"]] == ["unit-sheet", "do-not-use"]
    assert [batch["file"] for batch in told["labels"]] == ["all.pdf", "all-do-not-use.pdf"]
    assert "NICHTBENUTZEN" in texts(Path("all-do-not-use.pdf").read_bytes())[0]
    assert f"your own file {mine}" in shop.run("label", "Q-2")[2]


def test_two_templates_for_one_use_are_refused(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD}, THREE)
    code, out, err = shop.run("label", "Q-1", "--template", "unit-roll", "--template", "unit-sheet")
    assert (code, out) == (2, "")
    assert "both for use good" in err
    assert "one for each use" in err


def test_an_unknown_template_is_told_with_those_there_are(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD}, THREE)
    code, _, err = shop.run("label", "Q-1", "--template", "unit-rol")
    assert code == 2
    assert "did you mean unit-roll?" in err


def test_used_labels_of_a_sheet_are_left_out(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD, "Q-2": GOOD}, THREE)
    shop.run("label", "Q-1", "Q-2", "--template", "unit-sheet", "--skip", "20")
    assert len(texts(Path("labels-Q-1.pdf").read_bytes())) == 2


def test_text_that_does_not_fit_stops_all_labels_and_no_file_is_left(shop: Shop, shelf: Shelf) -> None:
    long = "Q-" + "W" * 38
    shelf.run({"Q-1": GOOD, long: GOOD}, with_serials(TIPPER, "Q-1", long))
    code, out, err = shop.run("label", "--order", "QOC-0101")
    assert (code, out) == (2, "")
    assert f"unit {long} on label unit-roll" in err
    assert "allowed: " in err
    assert files() == []


# Files and records.


def test_a_file_that_is_there_is_kept_unless_told_otherwise(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD}, THREE)
    Path("labels-Q-1.pdf").write_text("precious")
    assert shop.run("label", "Q-1")[0] == 2
    assert Path("labels-Q-1.pdf").read_text() == "precious"
    assert shop.run("label", "Q-1", "--force")[0] == 0
    assert read("labels-Q-1.pdf") == ["Q-1"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["label"], "either units or an order"),
        (["label", "Q-1", "--order", "QOC-0101"], "either units or an order"),
        (
            ["label", "Q-1", "--template", "unit-sheet", "--skip", "99"],
            "--skip: a sheet of unit-sheet has 21 labels (given 99); allowed: 0 to 20",
        ),
        (["label", "Q-1", "Q-7"], ", did you mean Q-1?"),
        (["label", "\x1b[2J"], "no unit \\x1b[2J in the record"),
        (["label", "--order", "QOC-7"], "knows no order QOC-7"),
        (["label", "Q-1", "--data", "nowhere"], "no such journal"),
    ],
)
def test_what_is_not_there_is_told(shop: Shop, shelf: Shelf, words: list[str], said: str) -> None:
    shelf.run({"Q-1": GOOD}, THREE)
    code, out, err = shop.run(*words)
    assert (code, out) == (2, "")
    assert said in err
    assert err.removesuffix("\n").isprintable()
    assert files() == []


def test_the_record_keeps_what_it_held_and_notes_each_label(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD, "Q-2": BAD}, THREE)
    before = list(read_journal(shelf.journal))
    shop.run("label", "Q-1", "Q-2", "--out", "labels.pdf")
    after = list(read_journal(shelf.journal))
    assert after[: len(before)] == before
    noted = [one.serial for one in after[len(before) :] if isinstance(one.event, DocumentMade)]
    assert noted == ["Q-1", "Q-2"]
    assert shop.run("audit")[0] == 0


def test_a_record_that_nobody_can_write_to_still_gives_labels(
    shop: Shop, shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    shelf.run({"Q-1": GOOD}, THREE)

    def full(*_: object) -> None:
        raise JournalError("the disk is full")

    monkeypatch.setattr("rig.cli.recorded.note", full)
    code, out, err = shop.run("label", "Q-1")
    assert (code, out) == (0, "labels-Q-1.pdf\n")
    assert "that these papers were made is not in the record: the disk is full" in err


# A record that somebody has had his hands in.


@pytest.mark.parametrize(
    ("serial", "expected"),
    [
        ("../../etc/x", 0),
        ("a/b\\c", 0),
        (".hidden", 0),
        ("-rf", 0),
        ("=1+1", 0),
        ("Q" * 500, 2),
        ("Q\x1b[2J\x07", 2),
        ("\u202eQ-1", 2),
        ("a\nb", 2),
    ],
)
def test_no_serial_leads_a_file_astray_or_reaches_the_terminal(
    shop: Shop, shelf: Shelf, serial: str, expected: int
) -> None:
    shelf.run({serial: BAD}, THREE)
    code, out, err = shop.run("label", "--", serial)
    assert code == expected
    assert len(files()) == (1 if code == 0 else 0)
    assert (out + err).replace("\n", "").isprintable()
    parent = Path.cwd().parent
    assert sorted(os.listdir(parent)) == ["data", "here", "home"]
    assert all(name.startswith("labels-") and len(name) < 120 for name in files())


def change_order(**updates: Any) -> Any:
    def change(inputs: OrderInputs) -> None:
        inputs.order.update(updates)

    return change


@pytest.mark.parametrize(
    "updates",
    [{"customer": "x" * 10_000}, {"customer": "a\x07b"}, {"setting": {}}, {"colour": "red"}, {"customer": 7}],
    ids=["long", "bell", "no setting", "another version's key", "no text"],
)
def test_a_record_that_does_not_fit_makes_no_unit_good_but_warns_of_a_bad_one(
    shop: Shop, shelf: Shelf, updates: dict[str, Any]
) -> None:
    shelf.run({"Q-1": GOOD}, THREE, change=change_order(**updates))
    code, _, err = shop.run("label", "Q-1")
    assert code == 1
    assert "no label for Q-1: the recorded order cannot be used" in err
    assert err.replace("\n", "").isprintable()
    assert len(err) < 700
    assert shop.run("label", "--order", "QOC-0101")[0] == 2
    shelf.run({"Q-2": BAD}, THREE, change=change_order(**updates))
    assert shop.run("label", "Q-2")[0] == 0
    assert "DONOTUSE" in texts(Path("labels-Q-2.pdf").read_bytes())[0]


@pytest.mark.parametrize("words", ["<b>&" * 30, "\x1b[2J\x07", "\u202eevil", "W" * 10_000, "../../x"])
def test_hostile_words_never_cost_the_warning(shop: Shop, shelf: Shelf, words: str) -> None:
    shelf.run({"Q-1": BAD}, THREE, words=words)
    code, _, err = shop.run("label", "Q-1")
    assert code == 0
    assert err.replace("\n", "").isprintable()
    [page] = texts(Path("labels-Q-1.pdf").read_bytes())
    assert "DONOTUSE" in page
    assert read("labels-Q-1.pdf") == ["Q-1"]


# Printing.


@pytest.fixture
def jobs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A system with printing; every job is entered in the file returned."""
    return with_printing(tmp_path, monkeypatch)


def test_labels_go_to_the_printer_at_their_true_size_one_job_for_each_kind(
    shop: Shop, shelf: Shelf, jobs: Path
) -> None:
    shelf.run({"Q-1": GOOD, "Q-2": BAD}, THREE)
    code, out, err = shop.run("label", "Q-1", "Q-2", "--template", "unit-sheet", "--print", "desk")
    assert (code, out) == (0, "")
    assert "1 label unit-sheet printed: request id is desk-7" in err
    sheet, roll = jobs.read_text().splitlines()
    assert '"-d", "desk"' in sheet
    assert '"media=A4"' in sheet
    assert '"print-scaling=none"' in sheet
    assert '"media=Custom.50x25mm"' in roll
    assert files() == []


def test_without_a_name_the_systems_printer_is_taken_and_a_file_kept_if_wanted(
    shop: Shop, shelf: Shelf, jobs: Path
) -> None:
    shelf.run({"Q-1": GOOD}, THREE)
    assert shop.run("label", "Q-1", "--out", "kept.pdf", "--print")[0] == 0
    assert '"-d"' not in jobs.read_text()
    assert files() == ["kept.pdf"]


@pytest.mark.usefixtures("jobs")
def test_a_printer_that_does_not_take_it_leaves_the_file_and_a_word(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": GOOD}, THREE)
    code, out, err = shop.run("label", "Q-1", "--print", "no-such")
    assert (code, out) == (3, "labels-Q-1.pdf\n")
    assert "not printed: lp did not take it: lp: The printer or class does not exist" in err
    assert "\x1b" not in err
    assert "100 %" in err
    assert read("labels-Q-1.pdf") == ["Q-1"]


def test_a_system_without_printing_leaves_the_file_and_says_how(
    shop: Shop, shelf: Shelf, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    shelf.run({"Q-1": GOOD}, THREE)
    code, out, err = shop.run("label", "Q-1", "--print")
    assert (code, out) == (3, "labels-Q-1.pdf\n")
    assert "no printing (CUPS" in err
    assert "true size" in err
