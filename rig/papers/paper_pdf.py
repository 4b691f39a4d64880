"""A paper as A4 pages."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from io import BytesIO
from typing import Any

from reportlab.lib.colors import HexColor, black
from reportlab.lib.enums import TA_LEFT, TA_RIGHT
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import (
    BaseDocTemplate,
    CondPageBreak,
    Flowable,
    Frame,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from rig.papers.chart import Chart, Ink
from rig.papers.chart_pdf import ChartOnPage
from rig.papers.fonts import BOLD, REGULAR, marked_up, register_fonts, showable
from rig.papers.paper import Block, Cell, Column, Grid, Pairs, Paper, Part, Said, Signatures, Stated, Tone

PAGE_MM = (210.0, 297.0)
"""A4, width and height."""

_MARGIN = 14 * mm
_WIDTH = A4[0] - 2 * _MARGIN
_FOOT = 11 * mm
_FOOT_PT = 7.5
_TEXT_PT, _LEADING = 8.5, 1.18
# Rows go to the next page whole; only one of more letters may not fit on any, and is torn.
_LONG = 1000
_NAME = 33 * mm
_HEADING = 10 * mm
_LINE = HexColor("#a6a6a6")
_SHADE = HexColor(Ink.PALE)
_INKS = {
    Tone.PLAIN: black,
    Tone.STRONG: black,
    Tone.GOOD: HexColor(Ink.GOOD),
    Tone.BAD: HexColor(Ink.BAD),
    Tone.UNDECIDED: HexColor(Ink.UNDECIDED),
    Tone.WARNING: HexColor(Ink.BAD),
}
# Share of full size; what does not fit one page at the last goes on over the next.
_SIZES = (1.0, 0.95, 0.9, 0.85, 0.8, 0.75)


def paper_pdf(paper: Paper, *, one_page: bool = False) -> bytes:
    """The paper as a PDF; the same paper gives the same bytes.

    With `one_page` its letters are set smaller, to three quarters, as far as that keeps it to one page.
    """
    register_fonts()
    for size in _SIZES if one_page else ():
        pdf, pages = _built(paper, size)
        if pages == 1:
            return pdf
    return _built(paper, 1.0)[0]


def _built(paper: Paper, size: float) -> tuple[bytes, int]:
    """The PDF and how many pages it has."""
    file = BytesIO()
    document = BaseDocTemplate(
        file,
        pagesize=A4,
        title=showable(f"{paper.kind} {paper.name}"),
        author=showable(paper.foot),
        subject=showable(paper.warning or paper.kind),
        initialFontName=REGULAR,
        invariant=1,
        lang="en",
    )
    frame = Frame(_MARGIN, _FOOT, _WIDTH, A4[1] - _FOOT - 10 * mm, 0, 0, 0, 0)
    document.addPageTemplates(PageTemplate("page", [frame]))
    document.build(list(_Setter(paper, size).story()), canvasmaker=partial(_Numbered, foot=paper.foot))
    return file.getvalue(), document.page


class _Numbered(Canvas):
    """Keeps its pages until all are there, and puts at the foot of each which of how many it is."""

    def __init__(self, *arguments: Any, foot: str, **options: Any) -> None:
        super().__init__(*arguments, **options)
        self._foot = showable(foot)
        self._kept: list[dict[str, Any]] = []

    def showPage(self) -> None:  # noqa: N802 - reportlab calls it so
        self._kept.append(dict(self.__dict__))
        self._startPage()  # type: ignore[attr-defined]

    def save(self) -> None:
        kept = self._kept
        for number, page in enumerate(kept, start=1):
            self.__dict__.update(page)
            self._draw_foot(f"page {number} of {len(kept)}")
            super().showPage()
        super().save()

    def _draw_foot(self, number: str) -> None:
        self.setFont(REGULAR, _FOOT_PT)
        self.setFillColor(black)
        self.drawRightString(A4[0] - _MARGIN, 6.5 * mm, number)
        # A name too long for the foot stands at the head of the paper in full.
        if stringWidth(self._foot, REGULAR, _FOOT_PT) < _WIDTH - 25 * mm:
            self.drawString(_MARGIN, 6.5 * mm, self._foot)


@dataclass(frozen=True)
class _Setter:
    """Sets the words of a paper at a share of full size."""

    paper: Paper
    size: float

    def story(self) -> Iterator[Flowable]:
        paper = self.paper
        yield self._text(paper.kind, 11, ink=HexColor(Ink.GREY))
        yield self._text(paper.name, 19, bold=True)
        yield Spacer(1, 5 * self.size)
        if paper.warning:
            yield self._boxed(
                [self._text(paper.warning, 10, bold=True, ink=_INKS[Tone.WARNING])], Tone.WARNING
            )
        for part in paper.parts:
            yield from self._part(part)

    def _part(self, part: Part) -> Iterator[Flowable]:
        if part.title:
            # A heading does not stay behind at the foot of a page.
            yield CondPageBreak(_HEADING + max([_least(block) for block in part.blocks[:1]], default=0.0))
            yield Spacer(1, 4 * self.size)
            yield self._text(part.title, 10.5, bold=True)
        for block in part.blocks:
            yield from self._block(block)

    def _block(self, block: Block) -> Iterator[Flowable]:
        match block:
            case Stated():
                yield self._stated(block)
            case Said():
                yield self._text(block.words, ink=_INKS[block.tone], bold=block.tone is not Tone.PLAIN)
            case Pairs():
                yield self._pairs(block)
            case Grid():
                yield CondPageBreak(_least(block))
                yield Spacer(1, 2 * self.size)
                yield self._caption(block.caption)
                yield self._grid(block)
            case Chart():
                yield CondPageBreak(_least(block))
                yield Spacer(1, 2 * self.size)
                yield self._caption(block.title)
                yield ChartOnPage(block)
            case Signatures():
                yield self._signatures(block)

    def _style(
        self, points: float, *, bold: bool = False, ink: Any = black, right: bool = False
    ) -> ParagraphStyle:
        return _style(points * self.size, bold, ink, right)

    def _text(
        self, words: str, points: float = _TEXT_PT, *, bold: bool = False, ink: Any = black
    ) -> Paragraph:
        return Paragraph(marked_up(words), self._style(points, bold=bold, ink=ink))

    def _caption(self, words: str) -> Paragraph:
        return self._text(words, 8, ink=HexColor(Ink.GREY))

    def _boxed(self, inside: Sequence[Flowable], tone: Tone) -> Table:
        box = Table([[one] for one in inside], colWidths=[_WIDTH], splitInRow=1)
        box.setStyle(
            TableStyle(
                [
                    ("BOX", (0, 0), (-1, -1), 0.8, _INKS[tone]),
                    ("LINEBEFORE", (0, 0), (0, -1), 5, _INKS[tone], "butt"),
                    ("LEFTPADDING", (0, 0), (-1, -1), 10),
                    ("TOPPADDING", (0, 0), (-1, -1), 2 * self.size),
                    ("BOTTOMPADDING", (0, 0), (-1, -1), 3 * self.size),
                ]
            )
        )
        return box

    def _stated(self, stated: Stated) -> Table:
        word = self._text(stated.word, 16, bold=True, ink=_INKS[stated.tone])
        return self._boxed([word, self._text(stated.sentence)], stated.tone)

    def _pairs(self, pairs: Pairs) -> Table:
        rows: list[list[Any]] = []
        spans: list[Any] = []
        waiting = list(pairs.rows)
        while waiting:
            first = waiting.pop(0)
            if waiting and self._is_short(first) and self._is_short(waiting[0]):
                rows.append([*self._pair(first), *self._pair(waiting.pop(0))])
            else:
                spans.append(("SPAN", (1, len(rows)), (3, len(rows))))
                rows.append([*self._pair(first), "", ""])
        torn = any(len(value) > _LONG for _, value in pairs.rows)
        table = Table(rows, colWidths=[_NAME, _WIDTH / 2 - _NAME] * 2, splitInRow=int(torn))
        table.setStyle(TableStyle([*self._table_style(), *spans]))
        return table

    def _is_short(self, pair: tuple[str, str]) -> bool:
        return stringWidth(showable(pair[1]), REGULAR, _TEXT_PT * self.size) < _WIDTH / 2 - _NAME - 10

    def _pair(self, pair: tuple[str, str]) -> tuple[Flowable, Flowable]:
        return self._text(pair[0], ink=HexColor(Ink.GREY)), self._text(pair[1])

    def _table_style(self) -> list[Any]:
        padding = 1.3 * self.size
        return [
            ("FONT", (0, 0), (-1, -1), REGULAR, _TEXT_PT * self.size, _TEXT_PT * self.size * _LEADING),
            ("LEFTPADDING", (0, 0), (-1, -1), 3),
            ("RIGHTPADDING", (0, 0), (-1, -1), 5),
            ("TOPPADDING", (0, 0), (-1, -1), padding),
            ("BOTTOMPADDING", (0, 0), (-1, -1), padding),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.25, _LINE),
        ]

    def _grid(self, grid: Grid) -> Table:
        whole = sum(column.weight for column in grid.columns)
        widths = [_WIDTH * column.weight / whole for column in grid.columns]
        head = [self._title(column) for column in grid.columns]
        rows = [
            [self._cell(cell, width) for cell, width in zip(row, widths, strict=True)] for row in grid.rows
        ]
        torn = any(len(cell.words) > _LONG for row in grid.rows for cell in row)
        table = Table([head, *rows], colWidths=widths, repeatRows=1, splitInRow=int(torn))
        numbers = [("ALIGN", (at, 0), (at, -1), "RIGHT") for at, one in enumerate(grid.columns) if one.number]
        table.setStyle(TableStyle([*self._table_style(), ("BACKGROUND", (0, 0), (-1, 0), _SHADE), *numbers]))
        return table

    def _title(self, column: Column) -> Paragraph:
        style = self._style(_TEXT_PT, bold=True, right=column.number)
        return Paragraph(marked_up(column.title), style)

    def _cell(self, cell: Cell, width: float) -> Flowable | str:
        """Plain letters where they fit on a line: setting a paragraph takes ten times as long."""
        words = showable(cell.words)
        if cell.tone is Tone.PLAIN and stringWidth(words, REGULAR, _TEXT_PT * self.size) < width - 9:
            return words
        return self._text(cell.words, bold=cell.tone is not Tone.PLAIN, ink=_INKS[cell.tone])

    def _signatures(self, signatures: Signatures) -> Table:
        """Lines to sign on, with a gap between them."""
        count, gap = len(signatures.of), 6 * mm
        wide = (_WIDTH - (count - 1) * gap) / count
        names = [self._text(words, 7.5, ink=HexColor(Ink.GREY)) for words in signatures.of]
        cells = [cell for name in names for cell in (name, "")][:-1]
        widths = [width for _ in names for width in (wide, gap)][:-1]
        table = Table([[""] * len(cells), cells], colWidths=widths, rowHeights=[10 * mm, None])
        lines = [("LINEBELOW", (2 * at, 0), (2 * at, 0), 0.6, black) for at in range(count)]
        table.setStyle(TableStyle([*lines, ("LEFTPADDING", (0, 0), (-1, -1), 0)]))
        return table


def _least(block: Block) -> float:
    """The room that a block needs where it begins, in points: a chart all of it, a table its head and a row."""
    if isinstance(block, Chart):
        return (block.height + 6) * mm
    return 18 * mm if isinstance(block, Grid) else 12 * mm


@lru_cache(maxsize=256)
def _style(size: float, bold: bool, ink: Any, right: bool) -> ParagraphStyle:
    return ParagraphStyle(
        "text",
        fontName=BOLD if bold else REGULAR,
        fontSize=size,
        leading=size * _LEADING,
        textColor=ink,
        alignment=TA_RIGHT if right else TA_LEFT,
        splitLongWords=1,
    )
