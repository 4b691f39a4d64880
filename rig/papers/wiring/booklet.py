"""All wiring papers of a rig: single drawings and tables, and the booklet that binds them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from typing import Any

from reportlab.lib.colors import HexColor, black
from reportlab.lib.pagesizes import A4, landscape
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.platypus import (
    BaseDocTemplate,
    Flowable,
    Frame,
    NextPageTemplate,
    PageBreak,
    PageTemplate,
    Paragraph,
    Spacer,
    Table,
    TableStyle,
)

from rig.explained.electrical import ElectricalChapter, out_of_bounds
from rig.explained.limits import Limited
from rig.papers.drawing.pdf import draw_on
from rig.papers.drawing.shapes import Drawing
from rig.papers.drawing.svg import svg
from rig.papers.fonts import BOLD, REGULAR, marked_up, register_fonts, showable
from rig.papers.wiring.sheets import all_sheets
from rig.papers.wiring.tables import PaperTable, csv_text, tables
from wiring.circuit.build import circuit_of
from wiring.profile import RigProfile

CAUTIONS = (
    "Have the wiring checked by a qualified person under local codes before it is switched on for the first time.",
    "PELV only, current-limited and fused. The mains side of the supplies is no part of these papers.",
    "Never on a sensor that is still wired to a machine, and never to set a sensor that is part of a safety function "
    "outside its own instructions.",
    "The stop button must work in hardware, without the program: press it with the program running and with the "
    "program ended, and see every relay fall, before the first unit is set.",
    "The rig is not a safety function. Whatever can hurt - a moving stage, a swing - needs a guard and a stop of its "
    "own, after a risk assessment.",
    "Keep fingers clear of a moving target.",
    "Wire colours other than those of the sensor are a proposal. Where local rules ask for others, they go first; "
    "wire numbers stay.",
    "Standards are quoted from memory. Where a figure matters, read it in the standard and in the data sheet of the "
    "part that you really use.",
)
_PAGE = landscape(A4)
_MARGIN = 14 * mm
_WIDTH = _PAGE[0] - 2 * _MARGIN
_MOST_TOLD = 6
_GRID, _SHADE = HexColor("#808080"), HexColor("#e8e8e8")


@dataclass(frozen=True, slots=True)
class Imprint:
    """By what a booklet was made, and when."""

    made_by: str
    made_on: date


def content_hash(profile: RigProfile) -> str:
    """What tells two profiles apart by their contents, in twelve figures."""
    return hashlib.sha256(profile.model_dump_json().encode()).hexdigest()[:12]


def wiring_papers(
    profile: RigProfile, chapters: tuple[ElectricalChapter, ...], imprint: Imprint
) -> Mapping[str, bytes]:
    """Every file of the papers by its name; the same profile and imprint give the same bytes."""
    circuit = circuit_of(profile)
    sheets = all_sheets(profile, circuit, content_hash(profile))
    lists = tables(profile, circuit, sheets)
    return {
        "wiring.pdf": _booklet(profile, sheets, lists, chapters, imprint),
        **{f"{sheet.name}.svg": svg(sheet).encode() for sheet in sheets},
        **{table.file: csv_text(table).encode() for table in lists},
    }


class _Sheet(Flowable):
    """A drawing as large as its page."""

    def __init__(self, drawing: Drawing) -> None:
        super().__init__()
        self._drawing = drawing

    def wrap(self, *_: float) -> tuple[float, float]:
        return self._drawing.width * mm - 1, self._drawing.height * mm - 1

    def draw(self) -> None:
        self.canv.bookmarkPage(self._drawing.name)
        self.canv.addOutlineEntry(self._drawing.title, self._drawing.name)
        draw_on(self.canv, self._drawing)


def _booklet(
    profile: RigProfile,
    sheets: Sequence[Drawing],
    lists: Sequence[PaperTable],
    chapters: tuple[ElectricalChapter, ...],
    imprint: Imprint,
) -> bytes:
    register_fonts()
    file = BytesIO()
    foot = f"rig {profile.name}, {content_hash(profile)}"

    def number(canvas: Any, document: Any) -> None:
        canvas.setFont(REGULAR, 9)
        canvas.drawString(_MARGIN, 8 * mm, foot)
        canvas.drawRightString(_PAGE[0] - _MARGIN, 8 * mm, f"page {document.page}")

    text = Frame(_MARGIN - 6, 13 * mm, _WIDTH + 12, _PAGE[1] - 24 * mm)
    whole = Frame(0, 0, *_PAGE, leftPadding=0, rightPadding=0, topPadding=0, bottomPadding=0)
    document = BaseDocTemplate(
        file,
        pagesize=_PAGE,
        title=showable(f"Wiring of {profile.title}"),
        subject=showable(f"rig profile {profile.name}"),
        author=imprint.made_by,
        initialFontName=REGULAR,
        invariant=1,
    )
    document.addPageTemplates(
        [PageTemplate("text", [text], onPage=number), PageTemplate("sheet", [whole], pagesize=_PAGE)]
    )
    story = [
        *_title_page(profile, sheets, lists, chapters, imprint),
        NextPageTemplate("sheet"),
        *(part for sheet in sheets for part in (PageBreak(), _Sheet(sheet))),
        NextPageTemplate("text"),
        *(part for table in lists for part in (PageBreak(), *_list(table))),
        PageBreak(),
        *_calculation(chapters),
    ]
    document.build(story)
    return file.getvalue()


def _style(points: float, *, bold: bool = False, before: float = 0) -> ParagraphStyle:
    return ParagraphStyle(
        f"{points}{bold}{before}",
        fontName=BOLD if bold else REGULAR,
        fontSize=points,
        leading=points * 1.2,
        spaceBefore=before,
        spaceAfter=2,
        keepWithNext=int(before > 0),
    )


def _text(words: str, points: float = 9, *, bold: bool = False, before: float = 0) -> Paragraph:
    return Paragraph(marked_up(words), _style(points, bold=bold, before=before))


def _title_page(
    profile: RigProfile,
    sheets: Sequence[Drawing],
    lists: Sequence[PaperTable],
    chapters: tuple[ElectricalChapter, ...],
    imprint: Imprint,
) -> Iterator[Flowable]:
    yield _text("Wiring papers", 26, bold=True)
    yield Spacer(1, 8)
    yield _text(profile.title, 18)
    yield Spacer(1, 4)
    facts = (
        f"rig profile {profile.name}, contents {content_hash(profile)}; drawn {imprint.made_on.isoformat()} "
        f"by {imprint.made_by}"
    )
    yield _text(facts, 11)
    yield Spacer(1, 8)
    cautions: list[Flowable] = [_text("Take care first", 13, bold=True)]
    cautions += [_text(f"{number}. {words}", 11) for number, words in enumerate(CAUTIONS, start=1)]
    yield _table([[cautions]], [1.0], ("BOX", (0, 0), (-1, -1), 2, black))
    yield from _bounds(chapters)
    yield _text("In here", 13, bold=True, before=10)
    names = "; ".join(sheet.title for sheet in sheets)
    yield _text(f"Sheets: {names}.", 10)
    yield _text(f"Lists: {'; '.join(table.title for table in lists)}. Calculation sheet.", 10)
    yield Spacer(1, 10)
    yield _signature()


def _bounds(chapters: tuple[ElectricalChapter, ...]) -> Iterator[Flowable]:
    """Whether the rig may be built like this, where nobody can miss it."""
    beyond = out_of_bounds(chapters)
    if not beyond:
        yield Spacer(1, 8)
        yield _text("Every value of the calculation sheet is within its bounds.", 11, bold=True)
        return
    yield _text("OUT OF BOUNDS: do not build it like this", 13, bold=True, before=10)
    for one in beyond[:_MOST_TOLD]:
        yield _text(f"{one.worked.what}: {one.worked.result} {one.worked.unit}, allowed {one.limit}", 10)
    if len(beyond) > _MOST_TOLD:
        yield _text(f"and {len(beyond) - _MOST_TOLD} more: see the calculation sheet", 10)


def _signature() -> Table:
    row = [
        _text(words, 10)
        for words in ("built by, date", "checked by (qualified person), date", "bench number")
    ]
    return _table([row], [0.36, 0.4, 0.24], ("BOTTOMPADDING", (0, 0), (-1, -1), 26))


def _table(rows: Sequence[Sequence[Any]], shares: Sequence[float], *extra: Any, head: bool = False) -> Table:
    table = Table(
        [list(row) for row in rows],
        colWidths=[share * _WIDTH for share in shares],
        repeatRows=1 if head else 0,
    )
    look: list[Any] = [
        ("GRID", (0, 0), (-1, -1), 0.4, _GRID),
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("TOPPADDING", (0, 0), (-1, -1), 2),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
    ]
    look += [("BACKGROUND", (0, 0), (-1, 0), _SHADE)] if head else []
    table.setStyle(TableStyle([*look, *extra]))
    return table


def _list(table: PaperTable) -> Iterator[Flowable]:
    yield _text(table.title, 16, bold=True)
    yield Spacer(1, 4)
    head = [_text(words, bold=True) for words in table.columns]
    rows = [[_text(cell) for cell in row] for row in table.rows]
    yield _table([head, *rows], table.widths, head=True)


def _calculation(chapters: tuple[ElectricalChapter, ...]) -> Iterator[Flowable]:
    yield _text("Calculation sheet", 16, bold=True)
    yield _text(
        "Worst cases of this rig, each with its formula, its numbers, and what it is held to. Letters mean what "
        "stands in the last column; a number in the rig profile can be changed there, and the papers made anew."
    )
    head = ("value", "worked out", "limit", "", "limit from; numbers from")
    for chapter in chapters:
        yield _text(chapter.title, 12, bold=True, before=8)
        rows = [[_text(words, bold=True) for words in head]]
        rows += [_result(one) for one in chapter.results]
        yield _table(rows, (0.22, 0.3, 0.12, 0.08, 0.28), head=True)


def _result(one: Limited) -> list[Paragraph]:
    worked = one.worked
    sources: dict[str, list[str]] = {}
    for name, number in worked.inputs:
        sources.setdefault(number.source, []).append(f"{name} = {number.text}")
    told = "; ".join(f"{', '.join(names)}: {source}" for source, names in sources.items())
    return [
        _text(worked.what),
        _text(f"{worked.symbol} = {worked.formula} = {worked.numbers} = {worked.result} {worked.unit}"),
        _text(one.limit),
        _text("OK" if one.within else "OUT OF BOUNDS", bold=True),
        _text(f"{one.limit_source}. {told}", 8),
    ]
