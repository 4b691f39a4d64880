"""Papers for the browser, in a browser: sorted, filtered, printed, by keyboard, by ear, and nothing leaves the page."""

from __future__ import annotations

import re
from collections.abc import Iterator
from importlib.resources import files
from itertools import combinations
from pathlib import Path

import pytest

from rig.papers.certificate import certificate
from rig.papers.chart import Ink
from rig.papers.paper_html import paper_html
from rig.papers.report import report
from tests.rig.papers.browser import CHROMIUM, Browser, browser
from tests.rig.papers.written import (
    BAD,
    DEAD,
    GOOD,
    UNSURE,
    certificate_facts,
    closed_up,
    pages,
    report_facts,
    words_of,
)

needs_chromium = pytest.mark.skipif(
    CHROMIUM is None,
    reason="no Chromium here: install Debian's package `chromium` to try papers in a browser",
)
SERIALS = """
JSON.stringify([...document.querySelectorAll("table[data-filter-by] tbody tr")]
    .filter((row) => !row.hidden).map((row) => row.cells[0].textContent))
"""
CHOOSE_BAD = """
document.querySelector("select").value = "bad";
document.querySelector("select").dispatchEvent(new Event("change"));
"""
UNITS = (GOOD, BAD, DEAD, UNSURE, GOOD, BAD)


@pytest.fixture(scope="module")
def page() -> Iterator[Browser]:
    with browser() as opened:
        yield opened


@pytest.fixture(scope="module")
def report_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("papers") / "report.html"
    file.write_bytes(paper_html(report(report_facts("measured", *UNITS), "teachrig 1")))
    return file


def shown(page: Browser) -> list[str]:
    return re.findall(r'"([^"]+)"', page.run(SERIALS))


def click(page: Browser, title: str) -> None:
    page.run(
        f'[...document.querySelectorAll("th button")].find((one) => one.textContent === "{title}").click()'
    )


@needs_chromium
class TestReport:
    def test_nothing_leaves_the_page_and_nothing_is_refused(self, page: Browser, report_file: Path) -> None:
        page.asked_for.clear()
        page.violations.clear()
        page.open(report_file)
        page.run("1")
        assert page.asked_for == [report_file.as_uri()]
        assert page.violations == []

    def test_the_policy_stops_whatever_would_leave_it(
        self, page: Browser, report_file: Path, tmp_path: Path
    ) -> None:
        """The page with somebody's picture, script and style put into it by hand."""
        html = report_file.read_text(encoding="utf-8")
        bad = '<img src="http://192.0.2.1/x"><script>document.title = "mine"</script><style>h1 {color: red}</style>'
        (tmp_path / "bad.html").write_text(html.replace("</main>", f"{bad}</main>"), encoding="utf-8")
        page.violations.clear()
        page.open(tmp_path / "bad.html")
        assert page.run("document.title") != "mine"
        assert page.run('getComputedStyle(document.querySelector("h1")).color') != "rgb(255, 0, 0)"
        assert any("Content Security Policy" in one for one in page.violations)

    def test_it_sorts_by_number_not_by_letters_and_back(self, page: Browser, report_file: Path) -> None:
        page.open(report_file)
        by_work = shown(page)
        assert by_work == [f"QOC-{number}" for number in range(1, 7)]
        click(page, "outer deviation")
        facts = report_facts("measured", *UNITS)
        known = {unit.last.serial: unit.last.deviations for unit in facts.units}
        measured = [serial for serial in shown(page) if known[serial]]
        outer = [next(one.value_mm for one in known[serial] if one.edge == "outer") for serial in measured]
        assert outer == sorted(outer)
        assert shown(page)[-1] == "QOC-3"  # it has none
        assert page.run('document.querySelector("[aria-sort]").getAttribute("aria-sort")') == "ascending"
        click(page, "outer deviation")
        assert page.run('document.querySelector("[aria-sort]").getAttribute("aria-sort")') == "descending"
        assert page.run('document.querySelectorAll("[aria-sort]").length') == 1
        click(page, "no.")
        assert shown(page) == by_work

    def test_it_filters_by_words_and_by_verdict_and_tells_how_many(
        self, page: Browser, report_file: Path
    ) -> None:
        page.open(report_file)
        page.run(CHOOSE_BAD)
        assert shown(page) == ["QOC-2", "QOC-6"]
        assert page.run('document.querySelector("[role=status]").textContent') == "2 of 6 rows shown"
        page.run(
            'const w = document.querySelector("input"); w.value = "qoc-6"; w.dispatchEvent(new Event("input"));'
        )
        assert shown(page) == ["QOC-6"]

    def test_it_works_by_keyboard_alone(self, page: Browser, report_file: Path) -> None:
        page.open(report_file)
        for _ in range(40):
            page.press("Tab")
            if page.run("document.activeElement.textContent") == "serial":
                break
        assert page.run("document.activeElement.tagName") == "BUTTON"
        assert page.run("getComputedStyle(document.activeElement).outlineStyle") == "solid"
        page.press("Enter")
        page.press("Enter")
        assert shown(page) == [f"QOC-{number}" for number in range(6, 0, -1)]

    def test_it_prints_all_its_words_on_a4_and_without_its_controls(
        self, page: Browser, report_file: Path
    ) -> None:
        page.open(report_file)
        on_screen = closed_up(words_of(report_file.read_bytes()))
        printed = pages(page.printed())
        text = closed_up("".join(printed))
        assert "Rowswith" not in text
        for words in ("Orderreport", "Faults,ranked", "QOC-6", "checkedby", "calibration"):
            assert words in text
        assert len(text) > 0.95 * len(on_screen)

    def test_a_print_of_a_part_says_that_it_is_one(self, page: Browser, report_file: Path) -> None:
        page.open(report_file)
        page.run(CHOOSE_BAD)
        assert "2of6rowsshown" in closed_up("".join(pages(page.printed())))

    def test_without_scripts_all_is_there_and_nothing_that_does_not_work(
        self, page: Browser, report_file: Path
    ) -> None:
        page.call("Emulation.setScriptExecutionDisabled", value=True)
        try:
            page.open(report_file)
            text = closed_up("".join(pages(page.printed())))
            roles = {role for role, _, _ in page.read_aloud()}
        finally:
            page.call("Emulation.setScriptExecutionDisabled", value=False)
        assert "QOC-6" in text
        assert not roles & {"button", "searchbox", "combobox"}

    def test_a_screen_reader_hears_parts_tables_and_what_the_charts_show(
        self, page: Browser, report_file: Path
    ) -> None:
        page.open(report_file)
        told = page.read_aloud()
        roles = {role for role, _, _ in told}
        assert {"banner", "main", "contentinfo", "table", "columnheader", "rowheader", "heading"} <= roles
        charts = [(name, description) for role, name, description in told if role in ("image", "img")]
        assert len(charts) == page.run('document.querySelectorAll("svg").length')
        assert all(name and description and description != name for name, description in charts)
        fields = {name for role, name, _ in told if role in ("searchbox", "combobox")}
        assert fields == {"Rows with", "verdict"}
        tables = [name for role, name, _ in told if role == "table"]
        assert all(tables)
        assert set(tables) <= {name for role, name, _ in told if role == "region"}


@needs_chromium
def test_a_certificate_opens_and_asks_for_nothing(page: Browser, tmp_path: Path) -> None:
    file = tmp_path / "unit.html"
    file.write_bytes(paper_html(certificate(certificate_facts("measured", GOOD), "teachrig 1")))
    page.asked_for.clear()
    page.open(file)
    assert page.asked_for == [file.as_uri()]
    assert page.run("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


@needs_chromium
def test_words_of_any_length_stay_on_the_page(page: Browser, tmp_path: Path) -> None:
    facts = certificate_facts("point", GOOD)
    file = tmp_path / "long.html"
    file.write_bytes(paper_html(certificate(facts, "x" * 10_000)))
    page.open(file)
    assert page.run("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


# What a person can make out (WCAG 2.2, 1.4.3: 4.5 to 1 for text, 1.4.11: 3 to 1 for what else has to be seen).


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    low, high = sorted(map(luminance, (one, other)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_is_known_for_black_on_white() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_every_colour_of_text_can_be_read_on_every_ground() -> None:
    css = (files("rig.papers") / "html" / "paper.css").read_text(encoding="utf-8")
    colours = {
        f"#{found * 2}" if len(found) == 3 else f"#{found}" for found in re.findall(r"[^-]color: #(\w+)", css)
    }
    assert len(colours) >= 5
    for colour in colours | {Ink.BLACK, Ink.GREY, Ink.BAD, Ink.GOOD, Ink.UNDECIDED}:
        for ground in ("#ffffff", Ink.PALE):
            assert contrast(colour, ground) >= 4.5, (colour, ground)


def test_what_is_drawn_stands_out_from_its_ground() -> None:
    for ink, ground in (
        (Ink.GOOD, Ink.WHITE),
        (Ink.BAD, Ink.PALE),
        (Ink.UNDECIDED, Ink.PALE),
        (Ink.GREY, Ink.GOOD_PALE),
    ):
        assert contrast(ink, ground) >= 3


def test_verdicts_are_told_apart_without_colour() -> None:
    """As shades of grey: the fills of bars by verdict."""
    fills = (Ink.GOOD_PALE, Ink.WHITE, Ink.BAD)
    assert all(abs(luminance(one) - luminance(other)) > 0.1 for one, other in combinations(fills, 2))
