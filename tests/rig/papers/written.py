"""Papers for the tests, and readers of what was made of them: the letters of a PDF, the words of a page."""

from __future__ import annotations

import io
import re
from functools import cache
from html.parser import HTMLParser
from typing import Any

import pypdf

from hal.simulated.benchfile import BenchFile, UnitRow
from hal.simulated.faults import UnitFault, UnitFaultKind
from rig.papers.certificate_facts import CertificateFacts, certificate_of
from rig.papers.report_facts import ReportFacts, report_of
from rig.recount.attempt import Attempt
from rig.recount.recount import recount
from sequences.checks import CheckPlan
from tests.rig.planned import Job, job
from tests.rig.recount.replays import attempts_in
from tests.rig.sequencer.floor import SETTINGS, work_through

MEASURED = job(
    "barrel-18-rail",
    "window",
    "NO",
    near_mm=280,
    far_mm=560,
    tolerance_mm=6,
    checks=CheckPlan(method="measured"),
)
POINT, FULL, COUNTED = SETTINGS["18 point"], SETTINGS["18 full"], SETTINGS["12 point"]
GOOD, BAD, DEAD, UNSURE = range(4)

_FAULTS: dict[int, tuple[dict[str, Any], ...]] = {
    GOOD: (),
    BAD: ({"kind": UnitFaultKind.STORES_WRONGLY, "offset_mm": 30.0},),
    DEAD: ({"kind": UnitFaultKind.DEAD},),
    UNSURE: ({"kind": UnitFaultKind.STORES_WRONGLY, "offset_mm": 6.0},),
}


@cache
def attempts(made_for: str, *units: int) -> tuple[Attempt, ...]:
    """Attempts at units of these kinds, as a simulated bench really worked on them."""
    rows = tuple(UnitRow(faults=tuple(UnitFault(**fault) for fault in _FAULTS[unit])) for unit in units)
    furnished = BenchFile(title="test", seed=3, unit=rows)
    return attempts_in(work_through(_job(made_for), furnished=furnished, units=len(units)).events)


def _job(name: str) -> Job:
    return {"measured": MEASURED, "point": POINT, "full": FULL, "counted": COUNTED}[name]


def certificate_facts(made_for: str, *units: int) -> CertificateFacts:
    """The certificate of the last of these units."""
    attempt = attempts(made_for, *units)[-1]
    return certificate_of(attempt, recount(attempt))


def report_facts(made_for: str, *units: int) -> ReportFacts:
    """The report on these units."""
    known = attempts(made_for, *units)
    return report_of(known[0].begin.order, known)


def pages(pdf: bytes) -> list[str]:
    """The text of every page of a PDF."""
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def closed_up(text: str) -> str:
    """Text without any space, since a line may end anywhere."""
    return "".join(text.split())


class _Words(HTMLParser):
    """What a page shows: no styles, no scripts, nothing that only a screen reader tells."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.words: list[str] = []
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        self.tags.append(f"/{tag}")

    def handle_data(self, data: str) -> None:
        hidden = ("style", "script", "title", "desc")
        if not self.tags or self.tags[-1] not in hidden:
            self.words.append(data)


def page_of(html: bytes) -> _Words:
    """A page, taken apart."""
    read = _Words()
    read.feed(html.decode("utf-8"))
    return read


def words_of(html: bytes) -> str:
    """What a page shows."""
    return " ".join(page_of(html).words)


def figures(text: str) -> set[str]:
    """Every number that stands in a text, but for those that only number pages."""
    text = re.sub(r"page \d+ of \d+", "", text)
    return set(re.findall(r"\d+(?:\.\d+)?", text))
