"""`teachrig certificate` and `teachrig report`: from the record of a bench to files that one hands over."""

from __future__ import annotations

import hashlib
import os
import re
from pathlib import Path
from shutil import copytree

import pytest

from rig.cli.main import main
from rig.events import Purpose, Verdict
from tests.cli.printer import with_printing
from tests.cli.shop import Shop
from tests.rig.papers.shelf import SHIPPED, Shelf, with_serials
from tests.rig.papers.written import closed_up, pages, words_of

GOOD, BAD, UNDECIDED = Verdict
TIPPER = SHIPPED.read_order("tipper-point-no")[0]
THREE = with_serials(TIPPER, "Q-1", "Q-2", "Q-3")


@pytest.fixture(scope="module")
def after_the_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder after the demo has been run on six units."""
    folder = tmp_path_factory.mktemp("demo") / "data"
    assert main(["demo", "--units", "6", "--data", str(folder)]) == 0
    return folder


@pytest.fixture
def worked(after_the_demo: Path, shop: Shop, tmp_path: Path) -> Shop:
    """A shop in which the demo has been run."""
    copytree(after_the_demo, tmp_path / "data")
    return shop


@pytest.fixture
def shelf(tmp_path: Path) -> Shelf:
    return Shelf(tmp_path / "data" / "journal.sqlite3")


def files(folder: str = ".") -> list[str]:
    return sorted(os.listdir(folder))


def text(name: str) -> str:
    return " ".join(" ".join(pages(Path(name).read_bytes())).split())


def test_a_certificate_comes_on_paper_and_for_the_browser(worked: Shop) -> None:
    code, out, _ = worked.run("certificate", "QOC18-0041")
    assert code == 0
    assert out.splitlines() == ["unit-QOC18-0041.pdf", "unit-QOC18-0041.html"] == files()[::-1]
    assert "QOC18-0041" in text("unit-QOC18-0041.pdf")
    assert "QOC18-0041" in words_of(Path("unit-QOC18-0041.html").read_bytes())


def test_every_unit_of_an_order_gets_its_own(worked: Shop) -> None:
    assert worked.run("certificate", "--order", "QOC-0101", "--out", "papers")[0] == 0
    assert len(files("papers")) == 4
    for name in ("QOC18-0041", "QOC18-0042"):
        assert name in text(f"papers/unit-{name}.pdf")


def test_json_gives_the_facts_and_writes_nothing_unless_told_where(worked: Shop) -> None:
    code, told = worked.run_json("certificate", "QOC18-0041")
    assert (code, files()) == (0, [])
    (unit,) = told["units"]
    assert unit["serial"] == "QOC18-0041"
    assert unit["agrees"] is True
    assert unit["setting"]["tolerance_mm"] == 8.0
    code, told = worked.run_json("report", "QOC-0101")
    assert (code, files()) == (0, [])
    assert [one["last"]["serial"] for one in told["units"]] == ["QOC18-0041", "QOC18-0042"]
    code, told = worked.run_json("report", "QOC-0101", "--out", "papers")
    assert files("papers") == [Path(one).name for one in reversed(told["files"])]


def test_a_report_comes_on_paper_and_for_the_browser(worked: Shop) -> None:
    code, out, _ = worked.run("report", "QOC-0104", "--out", "papers")
    assert code == 0
    assert out.splitlines() == ["papers/report-QOC-0104.pdf", "papers/report-QOC-0104.html"]
    assert "Order report (SIMULATED) QOC-0104" in text("papers/report-QOC-0104.pdf")


def test_a_file_that_is_there_is_kept_unless_it_may_be_replaced(worked: Shop) -> None:
    assert worked.run("report", "QOC-0101")[0] == 0
    Path("report-QOC-0101.html").unlink()
    Path("report-QOC-0101.pdf").write_bytes(b"mine")
    code, _, err = worked.run("report", "QOC-0101")
    assert code == 2
    assert "report-QOC-0101.pdf is there already" in err
    assert Path("report-QOC-0101.pdf").read_bytes() == b"mine"
    assert worked.run("report", "QOC-0101", "--force")[0] == 0
    assert Path("report-QOC-0101.pdf").read_bytes() != b"mine"


def test_papers_go_to_the_printer_and_that_is_in_the_record(
    worked: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs = with_printing(tmp_path, monkeypatch)
    code, out, err = worked.run("certificate", "--order", "QOC-0101", "--print", "desk")
    assert (code, out, files()) == (0, "", [])
    assert err.count("printed: request id is desk-7") == 2
    assert jobs.read_text().count('"media=A4"') == 2
    assert worked.run("report", "QOC-0101", "--out", "papers", "--print")[0] == 0
    assert len(files("papers")) == 2
    papers = worked.run_json("unit", "QOC18-0041")[1]["attempts"][0]["papers"]
    assert [one["kind"] for one in papers][-3:] == ["certificate", "order report", "order report"]


def test_papers_that_no_printer_takes_are_in_files(
    worked: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_printing(tmp_path, monkeypatch)
    code, told = worked.run_json("certificate", "QOC18-0041", "--print", "no-such")
    assert (code, told["printed"]) == (3, [])
    assert "does not exist" in told["not_printed"]
    assert files() == ["unit-QOC18-0041.html", "unit-QOC18-0041.pdf"]
    monkeypatch.setenv("PATH", str(tmp_path))
    code, _, err = worked.run("report", "QOC-0101", "--print")
    assert (code, "no printing (CUPS" in err) == (3, True)
    assert "report-QOC-0101.pdf" in files()


def test_the_demo_enters_its_papers_in_the_record(worked: Shop) -> None:
    papers = worked.run_json("unit", "QOC18-0042")[1]["attempts"][0]["papers"]
    assert [one["kind"] for one in papers] == ["order report"] * 2 + ["certificate"] * 2 + ["label"]
    told = worked.run("unit", "QOC18-0042")[1]
    assert re.findall(r"paper +(.*), \d{4}-.*?(, \d files|)\n", told) == [
        ("order report of its order", ", 2 files"),
        ("certificate", ", 2 files"),
        ("label", ""),
    ]
    assert worked.run("audit")[0] == 0


def test_what_is_not_known_is_named(worked: Shop) -> None:
    code, _, err = worked.run("certificate", "QOC18-0047")
    assert code == 2
    assert "no unit QOC18-0047 in the record" in err
    assert "did you mean QOC18-004" in err
    code, _, err = worked.run("report", "QOC-9999")
    assert code == 2
    assert "no unit of order QOC-9999" in err
    code, _, err = worked.run("certificate")
    assert code == 2
    assert "allowed: SERIAL..., or --order NUMBER" in err
    assert files() == []


def test_no_record_is_said_in_one_line(shop: Shop) -> None:
    for command in ("certificate", "report"):
        code, _, err = shop.run(command, "Q-1")
        assert code == 2
        assert "no such journal" in err
        assert "Traceback" not in err


def test_an_unfinished_unit_gets_nothing_and_is_named(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": None}, THREE)
    code, out, err = shop.run("certificate", "--order", "QOC-0101")
    assert (code, out, files()) == (1, "", [])
    assert "nothing for Q-1: it has no verdict" in err
    assert "nothing for Q-3: not begun yet" in err


def test_a_record_that_does_not_lead_to_its_verdict_is_no_certificate(shop: Shop, shelf: Shelf) -> None:
    """These units were called good, but nothing was read of them."""
    shelf.run({"Q-1": GOOD}, THREE, words="6 check positions read, all right")
    code, _, err = shop.run("certificate", "Q-1")
    assert code == 1
    assert "Q-1: the record does not lead to its verdict" in err
    assert "no certificate" in text("unit-Q-1.pdf")


def test_a_unit_that_was_put_in_again_since_says_so(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": BAD}, THREE)
    shelf.run({"Q-1": GOOD}, with_serials(TIPPER, "Q-1", number="QOC-0999"))
    shop.run("certificate", "--order", "QOC-0101")
    assert "put in again for order QOC-0999, and is good since" in text("unit-Q-1.pdf")


def test_a_report_counts_every_unit_once_by_its_last_attempt(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": UNDECIDED, "Q-2": BAD}, THREE)
    shelf.run({"Q-1": GOOD}, THREE, purpose=Purpose.VERIFY)
    code, told = shop.run_json("report", "QOC-0101", "--out", ".")
    assert code == 0
    assert [
        (one["last"]["serial"], one["last"]["verdict"], one["tries"], one["first"]) for one in told["units"]
    ] == [
        ("Q-1", "good", 2, "undecided"),
        ("Q-2", "bad", 1, "bad"),
    ]
    assert told["not_begun"] == ["Q-3"]
    words = text("report-QOC-0101.pdf")
    assert "1 of 3 good" in words
    assert "The order is not complete: 1 bad, 1 not begun." in words
    assert "50.0 % of the units with a verdict are good" in words
    assert "0.0 % were good at their first verdict" in words


def test_what_two_persons_decided_by_hand_stands_beside_the_verdict(shop: Shop, shelf: Shelf) -> None:
    shelf.run({"Q-1": UNDECIDED, "Q-2": GOOD}, THREE)
    by = (
        "--by",
        "Ann Alder",
        "--released-by",
        "Ben Birch",
        "--reason",
        "read again by hand at 393 and 407 mm",
    )
    assert shop.run("decide", "Q-1", "good", *by)[0] == 0
    shop.run("report", "QOC-0101")
    shop.run("certificate", "Q-1")
    for name in ("report-QOC-0101.pdf", "unit-Q-1.pdf"):
        assert "Decided by hand: good, by Ann Alder, released by Ben Birch: read again by hand" in text(name)
    assert "1 of 3 good" in text("report-QOC-0101.pdf")
    assert "no certificate" in text("unit-Q-1.pdf")


def test_that_a_paper_was_made_is_in_the_record(worked: Shop) -> None:
    before = worked.run_json("unit", "QOC18-0042")[1]["attempts"][0]["papers"]
    for command in (("certificate", "QOC18-0041"), ("report", "QOC-0101")):
        worked.run(*command, "--out", "papers")
    worked.run("label", "QOC18-0042", "--out", "papers/label.pdf")
    _, told = worked.run_json("unit", "QOC18-0042")
    (attempt,) = told["attempts"]
    assert {one["sha256"] for one in attempt["papers"][len(before) :]} == {
        hashlib.sha256(Path("papers", name).read_bytes()).hexdigest()
        for name in files("papers")
        if not name.startswith("unit-")
    }
    assert worked.run("audit")[0] == 0


def test_serials_of_a_record_cannot_lead_a_file_astray(shop: Shop, shelf: Shelf, tmp_path: Path) -> None:
    serial = "../../up\x1b[2J\u202e/x"
    shelf.run({serial: BAD}, THREE)
    code, out, _ = shop.run("certificate", serial)
    assert code == 1
    (name,) = (one for one in files() if one.endswith(".pdf"))
    assert out.splitlines() == [name, name.replace(".pdf", ".html")]
    assert all(letter.isalnum() or letter in "._-" for letter in name)
    assert sorted(os.listdir(tmp_path)) == ["data", "here", "home"]
    assert closed_up("../../up[U+001B][2J[U+202E]/x") in closed_up(text(name))


def test_two_serials_that_differ_in_what_a_file_name_cannot_hold_get_two_files(
    shop: Shop, shelf: Shelf
) -> None:
    shelf.run({"a/b": BAD, "a:b": BAD}, THREE)
    shop.run("certificate", "a/b", "a:b")
    assert len(files()) == 4


def test_the_demo_leaves_labels_certificates_and_reports(after_the_demo: Path) -> None:
    folder = after_the_demo / "demo-papers"
    assert files(str(folder)) == ["QOC-0101", "QOC-0104", "QOC-0105"]
    for order in folder.iterdir():
        assert {"report-" + order.name + end for end in (".pdf", ".html")} < set(files(str(order)))
        assert [one for one in files(str(order)) if one.startswith("labels-")]
        assert len(files(str(order / "units"))) == 4


def test_the_demo_can_be_run_again_into_the_same_folder(worked: Shop, tmp_path: Path) -> None:
    code, _, err = worked.run("demo", "--units", "3")
    assert code == 0
    assert err.splitlines()[-1].endswith(str(tmp_path / "data" / "demo-papers"))
    assert "put in again 1 of 2 units" in text(
        str(tmp_path / "data/demo-papers/QOC-0101/report-QOC-0101.pdf")
    )
