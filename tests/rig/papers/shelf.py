"""A record with units in it for the tests of labels, and a printer and a scanner to look at what comes of it."""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from dataclasses import replace
from math import ceil
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2
import zxingcpp
from PIL import Image

from rig.events import Event, OrderStarted, Purpose, Stamped, UnitJudged, UnitStarted, Verdict
from rig.jobs import inputs_of
from rig.journal import Journal
from rig.library import Library
from rig.papers.label_facts import UnitFacts
from rig.papers.label_template import LabelTemplate
from sequences.order import Order

SHIPPED = Library(home=None)


class Shelf:
    """Writes runs of units into a journal, as a bench would."""

    def __init__(self, journal: Path) -> None:
        self.journal = journal
        self._runs = 0

    def run(
        self,
        verdicts: dict[str, Verdict | None],
        order: Order | str = "tipper-point-no",
        *,
        purpose: Purpose = Purpose.SET,
        simulated: bool = False,
        words: str = "set point too far out: output on at 409.3 mm, must be off",
        number: str | None = None,
        change: Any = None,
    ) -> None:
        """One run of an order; None: the unit was begun, and not judged."""
        if isinstance(order, str):
            order = SHIPPED.read_order(order)[0]
        inputs = inputs_of(order, SHIPPED.read_type(order.sensor_type), SHIPPED.read_rig("simulated"))
        if change is not None:
            change(inputs)
        number = number or order.number
        begun = OrderStarted(
            order.number,
            order.customer,
            purpose,
            order.sensor_type,
            order.quantity,
            "simulated",
            simulated,
            "1",
        )
        events: list[tuple[str, Event]] = [("", begun), ("", inputs)]
        for index, (serial, verdict) in enumerate(verdicts.items()):
            events.append((serial, UnitStarted("A", index)))
            if verdict is not None:
                reason = "proven" if verdict is Verdict.GOOD else "set-point-off"
                events.append((serial, UnitJudged(verdict, reason, words)))
        self._write(number, events)

    def _write(self, number: str, events: Iterable[tuple[str, Event]]) -> None:
        self._runs += 1
        journal = Journal(self.journal, f"run-{self._runs}")
        for count, (serial, event) in enumerate(events):
            # Every simulated run begins at the same moment: time tells nothing of their order.
            journal.record(Stamped(count, count, "2026-01-05T07:00:00.000Z", number, serial, event))
        journal.close()


def with_serials(order: Order, *serials: str, **updates: Any) -> Order:
    """An order for other units."""
    return Order.model_validate(
        order.model_dump(mode="json")
        | {"serials": list(serials), "serial_run": None, "quantity": len(serials)}
        | updates
    )


def template(name: str, **updates: Any) -> LabelTemplate:
    """A shipped template with other values."""
    return SHIPPED.read_label(name).model_copy(update=updates)


def labelled(facts: UnitFacts, **texts: str) -> UnitFacts:
    """The same unit with other texts on its label."""
    return replace(facts, texts={**facts.texts, **texts})


def rectangles_mm(pdf: bytes) -> Iterator[tuple[float, float, float, float]]:
    """Left, upper, right and lower edge of every rectangle of the first page, in mm from its upper left corner."""
    page = pypdf.PdfReader(io.BytesIO(pdf)).pages[0]
    height = float(page.mediabox.height)
    stream = page.get_contents()
    assert stream is not None
    for numbers, what in pypdf.generic.ContentStream(stream, page.pdf).operations:
        if what == b"re":
            x, y, across, up = map(float, numbers)
            yield tuple(side / 72 * 25.4 for side in (x, height - y - up, x + across, height - y))  # type: ignore[misc]


def printed(pdf: bytes, dpi: int, *, black_and_white: bool = False) -> Iterator[Image.Image]:
    """Pages as a printer of so many dots per inch lays them down; without grey as a thermal printer does."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        for page in document:
            _to_whole_dots(page, dpi)
            image = page.render(scale=dpi / 72).to_pil().convert("L")
            yield image.point(lambda grey: 255 if grey >= 128 else 0) if black_and_white else image
    finally:
        document.close()


def _to_whole_dots(page: pypdfium2.PdfPage, dpi: int) -> None:
    """Extend a page to whole dots from its upper left corner, or it would be scaled to them."""
    width, height = (ceil(side * dpi / 72 - 1e-6) * 72 / dpi - 1e-4 for side in page.get_size())
    top = page.get_size()[1]
    page.set_mediabox(0, top - height, width, top)
    page.set_cropbox(0, top - height, width, top)


def scanned(image: Image.Image) -> list[str]:
    """Every code on a page, as an independent reader (zxing-cpp) decodes it, first from top and left."""
    found = sorted(
        zxingcpp.read_barcodes(image),
        key=lambda one: (one.position.top_left.y // 50, one.position.top_left.x),
    )
    return [one.bytes.decode("ascii") for one in found]


def texts(pdf: bytes) -> list[str]:
    """The text of every page, without any space."""
    return ["".join(page.extract_text().split()) for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]
