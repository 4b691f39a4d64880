"""Certificates and reports as a printer lays their pages down: nothing is cut, nothing lies on anything else."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import combinations

import pypdfium2
import pytest
from PIL import Image

from rig.papers.certificate import certificate
from rig.papers.chart import Ink
from rig.papers.paper_pdf import paper_pdf
from rig.papers.report import report
from tests.rig.papers.written import BAD, DEAD, GOOD, UNSURE, certificate_facts, report_facts

DPI = 110
# What no printer reaches, and where the drawer of a paper keeps out.
EDGE_MM = 5.0
PAPERS = [
    ("certificate", "point", GOOD),
    ("certificate", "measured", BAD),
    ("report", "measured", GOOD),
    ("report", "point", BAD),
]

Box = tuple[float, float, float, float]


@cache
def pdf_of(what: str, made_for: str, unit: int) -> bytes:
    if what == "certificate":
        return paper_pdf(certificate(certificate_facts(made_for, unit), "teachrig 1"), one_page=True)
    units = (GOOD,) * 4 if unit == GOOD else (GOOD, BAD, DEAD, UNSURE, GOOD, BAD)
    return paper_pdf(report(report_facts(made_for, *units), "teachrig 1"))


@cache
def page_images(pdf: bytes) -> list[Image.Image]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [page.render(scale=DPI / 72).to_pil().convert("RGB") for page in document]
    finally:
        document.close()


def lines_of(pdf: bytes) -> Iterator[list[Box]]:
    """Where the letters of each page stand, a box for each run of them on a line, in points."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            text = page.get_textpage()
            yield [text.get_rect(index) for index in range(text.count_rects())]
    finally:
        document.close()


def share_of(ink: Ink, images: list[Image.Image]) -> float:
    """How many of the dots have a colour, of 10,000."""
    wanted = tuple(int(ink[start : start + 2], 16) for start in (1, 3, 5))
    counts = [{colour: count for count, colour in image.getcolors(2**24) or []} for image in images]
    dots = sum(image.width * image.height for image in images)
    return 10_000 * sum(count.get(wanted, 0) for count in counts) / dots


@pytest.mark.parametrize(("what", "made_for", "unit"), PAPERS)
class TestAsSeen:
    def test_nothing_stands_where_no_printer_prints(self, what: str, made_for: str, unit: int) -> None:
        edge = round(EDGE_MM / 25.4 * DPI)
        for image in page_images(pdf_of(what, made_for, unit)):
            inside = image.crop((edge, edge, image.width - edge, image.height - edge))
            blank = Image.new("RGB", image.size, "white")
            blank.paste(inside, (edge, edge))
            assert blank.tobytes() == image.tobytes()

    def test_no_line_of_letters_lies_on_another(self, what: str, made_for: str, unit: int) -> None:
        for boxes in lines_of(pdf_of(what, made_for, unit)):
            assert boxes
            for one, other in combinations(boxes, 2):
                width = min(one[2], other[2]) - max(one[0], other[0])
                height = min(one[3], other[3]) - max(one[1], other[1])
                assert not (width > 1.0 and height > 2.5), (one, other)

    def test_the_verdict_and_the_tolerance_are_seen_in_their_colours(
        self, what: str, made_for: str, unit: int
    ) -> None:
        images = page_images(pdf_of(what, made_for, unit))
        good, bad = share_of(Ink.GOOD, images), share_of(Ink.BAD, images)
        assert share_of(Ink.GOOD_PALE, images) > 20
        # That a bench is simulated is said in red on every one of these.
        assert (bad > 10) == (unit == BAD)
        if (what, unit) == ("certificate", GOOD):
            assert good > bad
