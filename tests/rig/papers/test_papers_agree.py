"""Paper and browser say the same, and take whatever stands in a record as nothing but text."""

from __future__ import annotations

import dataclasses
import re
import unicodedata
from enum import Enum
from typing import Any, TypeVar

import pytest

from rig.papers.certificate import certificate
from rig.papers.fonts import showable, visible
from rig.papers.paper import Paper
from rig.papers.paper_html import paper_html
from rig.papers.paper_pdf import paper_pdf
from rig.papers.report import report
from tests.rig.papers.written import (
    BAD,
    DEAD,
    GOOD,
    UNSURE,
    certificate_facts,
    closed_up,
    figures,
    page_of,
    pages,
    report_facts,
    words_of,
)

_T = TypeVar("_T")

UNITS = (GOOD, BAD, DEAD, UNSURE, GOOD, BAD)
PAPERS = {
    f"{what}, {made_for}": (what, made_for)
    for what in ("certificate", "report")
    for made_for in ("measured", "point", "counted", "full")
}
HOSTILE = {
    "markup": "</td></text></style><script>alert(1)</script><img src=http://192.0.2.1/x onerror=alert(1)>&amp;{{7*7}}",
    "paragraph markup": '<b>bold</b><br/><para fontSize="60"><img src="/etc/passwd"/>',
    "formula": "=cmd|' /C calc'!A0",
    "control characters": "a\x00b\x07c\x1b[2Jd\re\nf\tg\x7f\u0085\u2028",
    "right to left": "evil\u202egpj.exe \u05d0\u05d1 \u2066x",
    "path": "../../../../etc/passwd\\..\\C:",
    "other scripts": "\u30c6\u30b9\u30c8 \U0001f34e \u0416",
    "half a letter": "x\ud800y",
    "accents apart": "e\u0301",
    "quotes": "\"'`' onload='alert(1)",
}


def paper_of(what: str, made_for: str) -> Paper:
    if what == "certificate":
        return certificate(certificate_facts(made_for, GOOD), "teachrig 1")
    return report(report_facts(made_for, *UNITS), "teachrig 1")


@pytest.mark.parametrize(("what", "made_for"), PAPERS.values(), ids=PAPERS)
def test_every_figure_on_paper_is_in_the_browser_and_the_other_way_round(what: str, made_for: str) -> None:
    paper = paper_of(what, made_for)
    on_paper, in_browser = " ".join(pages(paper_pdf(paper))), words_of(paper_html(paper))
    assert figures(on_paper) == figures(in_browser)
    assert len(figures(on_paper)) > 20


@pytest.mark.parametrize(("what", "made_for"), PAPERS.values(), ids=PAPERS)
def test_the_same_letters_on_paper_and_in_the_browser(what: str, made_for: str) -> None:
    paper = paper_of(what, made_for)
    on_paper = re.sub(r"page \d+ of \d+", "", " ".join(pages(paper_pdf(paper, one_page=True))))
    in_browser = words_of(paper_html(paper))
    assert set(closed_up(on_paper)) == set(closed_up(in_browser))


def spoilt(facts: _T, text: str) -> tuple[_T, list[str]]:
    """The same facts with `text` for every text of them, each told from the others by a number."""
    put: dict[str, str] = {}

    def spoil(value: Any) -> Any:
        if isinstance(value, Enum) or value is None:
            return value
        if isinstance(value, str):
            return put.setdefault(value, f"{text}{len(put)}z")
        if isinstance(value, tuple):
            return tuple(map(spoil, value))
        if dataclasses.is_dataclass(value) and not isinstance(value, type):
            return dataclasses.replace(
                value, **{one.name: spoil(getattr(value, one.name)) for one in dataclasses.fields(value)}
            )
        return value

    return spoil(facts), list(put.values())


def in_one_or_two(text: str, on_paper: str) -> bool:
    """Whether a text stands there whole, or on both sides of the end of a page."""
    return any(text[:end] in on_paper and text[end:] in on_paper for end in range(len(text)))


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
@pytest.mark.parametrize("made_for", ["measured", "point"])
def test_whatever_stands_in_a_record_is_text(made_for: str, text: str) -> None:
    facts, put = spoilt(certificate_facts(made_for, GOOD), text)
    paper = certificate(facts, text)
    on_paper = closed_up("".join(pages(paper_pdf(paper)))).casefold()
    in_browser = closed_up("".join(page_of(paper_html(paper)).words)).casefold()
    told = [one for one in put if closed_up(visible(one)).casefold() in in_browser]
    # Some facts, such as the moments, are told in words of their own.
    assert len(told) > len(put) * 0.6
    for one in (
        facts.serial,
        facts.setting.customer,
        facts.words,
        facts.software,
        facts.run,
        facts.setting.rig,
    ):
        assert one in told
    assert [one for one in told if not in_one_or_two(closed_up(showable(one)).casefold(), on_paper)] == []


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_nothing_of_a_record_becomes_a_part_of_the_page(text: str) -> None:
    clean = page_of(paper_html(paper_of("report", "measured")))
    facts, _ = spoilt(report_facts("measured", *UNITS), text)
    page = page_of(paper_html(report(facts, text)))
    assert set(page.tags) <= set(clean.tags)
    assert {(tag, name) for tag, name, _ in page.attributes} <= {
        (tag, name) for tag, name, _ in clean.attributes
    }
    assert not [
        name for _, name, _ in page.attributes if name in ("src", "href", "style") or name.startswith("on")
    ]


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE)
def test_no_letter_that_nobody_sees_reaches_the_page(text: str) -> None:
    facts, _ = spoilt(report_facts("point", GOOD, BAD), text)
    html = paper_html(report(facts, text)).decode("utf-8")
    unseen = {letter for letter in html if not letter.isprintable() and letter != "\n"}
    assert unseen == set()
    assert not any(unicodedata.bidirectional(letter) in ("RLO", "LRO", "RLE", "RLI") for letter in html)


@pytest.mark.parametrize("long", ["x" * 10_000, "many words " * 900], ids=["one word", "many words"])
def test_long_text_goes_on_over_further_pages_and_is_never_cut(long: str) -> None:
    paper = (
        certificate(dataclasses.replace(certificate_facts("point", GOOD), words=long, serial=long), "")
        if long.startswith("x")
        else report(dataclasses.replace(report_facts("point", BAD), customer=long), "")
    )
    letter = long[0]
    assert "".join(pages(paper_pdf(paper))).count(letter) >= long.count(letter)
    assert words_of(paper_html(paper)).count(letter) >= long.count(letter)


def test_a_long_text_in_a_table_goes_on_too() -> None:
    facts = report_facts("point", BAD)
    (unit,) = facts.units
    long = "set point too far out " * 500
    units = (dataclasses.replace(unit, last=dataclasses.replace(unit.last, words=long)),)
    text = "".join(pages(paper_pdf(report(dataclasses.replace(facts, units=units), ""))))
    assert closed_up(text).count("setpointtoofarout") >= 480  # some are broken by the end of a page


def test_text_that_is_a_little_too_long_is_set_smaller_and_keeps_to_its_page() -> None:
    facts = certificate_facts("point", GOOD)
    longer = dataclasses.replace(
        facts, words="it was read at every one of its positions and was right there. " * 15
    )
    assert len(pages(paper_pdf(certificate(longer, ""), one_page=True))) == 1
