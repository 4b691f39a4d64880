"""The hand card as one A4 page, for a cabinet door."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from typing import Any

from reportlab.lib.colors import HexColor, black, white
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepInFrame, Paragraph, SimpleDocTemplate, Spacer, Table, TableStyle
from reportlab.platypus.doctemplate import LayoutError

from rig.papers.card import CAUTIONS, Card
from rig.papers.card_scale import CardScale
from rig.papers.fonts import BOLD, REGULAR, marked_up, register_fonts, showable
from rig.papers.hand_steps import HandStep

_GRID = HexColor("#808080")
_SHADE = HexColor("#e8e8e8")
_MARGIN = 14 * mm
_WIDTH = A4[0] - 2 * _MARGIN
_HEIGHT = A4[1] - 22 * mm
_SIDE_PADDING = 6.0
# Text is set smaller step by step until the card fits its page; 60 % of 11 points is the least one can read.
_SIZES = tuple(1 - step / 40 for step in range(17))


def card_pdf(card: Card) -> bytes:
    """The card as a PDF of one page, whatever the length of its texts; the same card gives the same bytes."""
    register_fonts()

    @cache
    def built(index: int) -> bytes | None:
        return _built(card, list(_Page(card, _SIZES[index]).story()))

    # Most cards fit at full size, so that is tried before halving begins.
    largest = (
        0 if built(0) else bisect_left(range(len(_SIZES)), True, key=lambda index: built(index) is not None)
    )
    if largest < len(_SIZES) and (pdf := built(largest)) is not None:
        return pdf
    # Fifty steps and two thousand characters of notes: rather small print than a second sheet that gets lost.
    whole = KeepInFrame(_WIDTH, _HEIGHT - 1, list(_Page(card, _SIZES[-1]).story()), mode="shrink")
    pdf = _built(card, [whole])
    if pdf is None:
        raise ValueError("the hand card does not fit one page")
    return pdf


def _built(card: Card, story: list[Flowable]) -> bytes | None:
    """The PDF of a story; None if that takes more than one page."""
    file = BytesIO()
    document = SimpleDocTemplate(
        file,
        pagesize=A4,
        leftMargin=_MARGIN - _SIDE_PADDING,
        rightMargin=_MARGIN - _SIDE_PADDING,
        topMargin=11 * mm - _SIDE_PADDING,
        bottomMargin=11 * mm - _SIDE_PADDING,
        title=showable(f"Hand card {card.designation or card.order}"),
        subject=showable(f"{card.setting}, order {card.order} for {card.customer}"),
        author=card.made_by,
        initialFontName=REGULAR,
        invariant=1,
    )
    try:
        document.build(story)
    except LayoutError:
        return None
    return file.getvalue() if document.page == 1 else None


@dataclass(frozen=True, slots=True)
class _Page:
    """The card with its text set at a share of full size."""

    card: Card
    size: float

    def story(self) -> Iterator[Flowable]:
        card = self.card
        yield self._banner()
        yield Spacer(1, 6 * self.size)
        yield self._facts()
        yield Spacer(1, 4 * self.size)
        yield CardScale(card, _WIDTH)
        yield self._cautions()
        if card.air:
            yield self._heading("Air")
            yield self._small(card.air)
        if len(card.airs) > 1:
            yield Spacer(1, 3 * self.size)
            yield self._airs()
        yield self._heading("Set")
        yield self._steps()
        yield self._small(card.refusal)
        if card.notes:
            yield self._small(f"This type: {card.notes}")
        yield self._heading("Prove")
        yield self._small(f"Target: {card.target}. Output: {card.seen_at}.")
        yield Spacer(1, 3 * self.size)
        yield self._checks()
        yield Spacer(1, 8 * self.size)
        yield self._signature()
        yield self._text(f"{card.made_by}, from order {card.order}", 8)

    def _style(
        self, points: float, *, bold: bool = False, ink: Any = black, before: float = 0
    ) -> ParagraphStyle:
        size = points * self.size
        return ParagraphStyle(
            f"{points}{bold}{ink}",
            fontName=BOLD if bold else REGULAR,
            fontSize=size,
            leading=size * 1.22,
            textColor=ink,
            spaceBefore=before * self.size,
            spaceAfter=2 * self.size,
        )

    def _text(self, words: str, points: float = 11, *, bold: bool = False, ink: Any = black) -> Paragraph:
        return Paragraph(marked_up(words), self._style(points, bold=bold, ink=ink))

    def _small(self, words: str) -> Paragraph:
        return self._text(words, 10)

    def _heading(self, words: str) -> Paragraph:
        return Paragraph(marked_up(words), self._style(14, bold=True, before=8))

    def _table(self, rows: Sequence[Sequence[Flowable]], widths: Sequence[float], *extra: Any) -> Table:
        table = Table([list(row) for row in rows], colWidths=list(widths))
        padding = 3.5 * self.size
        base: list[Any] = [
            ("GRID", (0, 0), (-1, -1), 0.5, _GRID),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("TOPPADDING", (0, 0), (-1, -1), padding),
            ("BOTTOMPADDING", (0, 0), (-1, -1), padding),
        ]
        table.setStyle(TableStyle([*base, *extra]))
        return table

    def _banner(self) -> Table:
        """What it is and where it belongs, white on black: legible from two steps away."""
        distances = [f"{mark.name} {mark.at_mm:g} mm" for mark in self.card.points]
        if distances:
            distances.append(f"\u00b1 {self.card.tolerance_mm:g} mm")
        rows = [
            [
                self._text("Setting by hand", 13, ink=white),
                self._text(self.card.designation or self.card.order, 20, bold=True, ink=white),
            ],
            [
                self._text(self.card.setting, 13, ink=white),
                self._text(", ".join(distances) or "no set point", 15, bold=True, ink=white),
            ],
        ]
        black_out = [("BACKGROUND", (0, 0), (-1, -1), black), ("GRID", (0, 0), (-1, -1), 0, black)]
        return self._table(rows, [_WIDTH * 0.38, _WIDTH * 0.62], *black_out)

    def _facts(self) -> Table:
        card = self.card
        rows = [
            [self._small("order"), self._text(card.order), self._small("for"), self._text(card.customer)],
            [self._small("sensor"), self._text(card.sensor_type), self._text(""), self._text("")],
        ]
        widths = [16 * mm, 44 * mm, 12 * mm, _WIDTH - 72 * mm]
        return self._table(rows, widths, ("SPAN", (1, 1), (-1, 1)))

    def _cautions(self) -> Table:
        words = [self._text("Take care first", 12, bold=True)]
        words += [self._text(f"{number}. {text}", 10) for number, text in enumerate(CAUTIONS, start=1)]
        return self._table([[words]], [_WIDTH], ("BOX", (0, 0), (-1, -1), 2, black))  # type: ignore[list-item]

    def _steps(self) -> Table:
        rows = [self._step(number, step) for number, step in enumerate(self.card.steps, start=1)]
        widths = [9 * mm, 90 * mm, _WIDTH - 109 * mm, 10 * mm]
        return self._table(rows, widths, ("BACKGROUND", (0, 0), (0, -1), _SHADE))

    def _step(self, number: int, step: HandStep) -> list[Flowable]:
        return [
            self._text(str(number), bold=True),
            self._text(step.do),
            self._text(step.see),
            _Box(12 * self.size),
        ]

    def _airs(self) -> Table:
        head = [self._text(words, 10, bold=True) for words in ("air now", *self.card.air_columns)]
        rows = [
            [
                self._text(f"{row.temperature_c:g} \u00b0C", bold=True),
                *(self._text(f"{mm:g}") for mm in row.distances_mm),
            ]
            for row in self.card.airs
        ]
        first = 22 * mm
        rest = (_WIDTH - first) / len(self.card.air_columns)
        return self._table(
            [head, *rows],
            [first, *[rest] * len(self.card.air_columns)],
            ("BACKGROUND", (0, 0), (-1, 0), _SHADE),
        )

    def _checks(self) -> Table:
        head = [self._text(words, 10, bold=True) for words in ("target", "output must be", "output is")]
        rows = [
            [self._text(one.target), self._text(one.output, bold=True), self._text("")]
            for one in self.card.checks
        ]
        widths = [_WIDTH - 74 * mm, 37 * mm, 37 * mm]
        return self._table([head, *rows], widths, ("BACKGROUND", (0, 0), (-1, 0), _SHADE))

    def _signature(self) -> Table:
        row = [self._small(words) for words in ("serial", "date", "set and proven by")]
        room = ("BOTTOMPADDING", (0, 0), (-1, -1), 20 * self.size)
        return self._table([row], [_WIDTH * 0.3, _WIDTH * 0.25, _WIDTH * 0.45], room)


class _Box(Flowable):
    """An empty square to tick."""

    def __init__(self, side: float) -> None:
        super().__init__()
        self._side = side

    def wrap(self, *_: float) -> tuple[float, float]:
        return self._side, self._side

    def draw(self) -> None:
        self.canv.rect(0, 0, self._side, self._side)
