"""Labels of one template as a PDF: a page for each label on a roll, or sheets filled row by row."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from io import BytesIO

from reportlab.lib.colors import Color, HexColor, black, white
from reportlab.pdfgen.canvas import Canvas

from rig.events import Verdict
from rig.papers.fonts import REGULAR, register_fonts, showable
from rig.papers.label_code import code_text
from rig.papers.label_facts import UnitFacts
from rig.papers.label_parts import POINTS_PER_MM, Align, Code, Ground, TextField
from rig.papers.label_symbol import CodeTooLong, Symbol, symbol
from rig.papers.label_template import LabelTemplate
from rig.papers.label_text import room_mm, set_text
from wiring.plainwords import printable, shown

# IEC 60073: green normal, red fault, yellow abnormal. Dark enough, or bright enough, that text on it is legible and
# stays so where a printer turns colours to black and white.
_COLOURS = {
    Verdict.GOOD: (HexColor("#00642e"), white),
    Verdict.BAD: (HexColor("#b00000"), white),
    Verdict.UNDECIDED: (HexColor("#ffd500"), black),
}
_OUTLINE_MM = 0.2
# Printers ink every dot that a shape touches, so modules stay this much of a dot within theirs: without it a rounding
# error made them one dot wider.
_SPARED = 0.05


class LabelRefused(ValueError):
    """A label cannot show all that its template wants; its text says what, and what would help."""


def labels_pdf(units: Sequence[UnitFacts], template: LabelTemplate, made_by: str, skip: int = 0) -> bytes:
    """The labels of units that the template is for; the same units give the same bytes.

    `skip` labels at the beginning of the first sheet are left out, having been used before.

    Raises LabelRefused.
    """
    register_fonts()
    file = BytesIO()
    width_mm, height_mm = template.page_mm
    size = (width_mm * POINTS_PER_MM, height_mm * POINTS_PER_MM)
    # The stubs take the name of a font for its size.
    canvas = Canvas(file, pagesize=size, initialFontName=REGULAR, invariant=1)  # type: ignore[arg-type]
    canvas.setTitle(showable(f"Labels {template.name}"))
    canvas.setAuthor(made_by)
    canvas.setViewerPreference("PrintScaling", "None")
    page = 0
    for unit, (page_of_label, x_mm, y_mm) in zip(units, places_mm(template, skip), strict=False):
        if page_of_label > page:
            canvas.showPage()
            page = page_of_label
        _Label(canvas, template, unit, x_mm, y_mm).draw()
    canvas.save()
    return file.getvalue()


def places_mm(template: LabelTemplate, skip: int = 0) -> Iterator[tuple[int, float, float]]:
    """Page, and left and upper edge in mm, of one label after the other."""
    sheet = template.sheet
    index = skip if sheet else 0
    while True:
        if sheet is None:
            yield index, 0.0, 0.0
        else:
            page, place = divmod(index, sheet.labels)
            row, column = divmod(place, sheet.columns)
            yield (
                page,
                sheet.margin_left_mm + column * (template.width_mm + sheet.gap_across_mm),
                sheet.margin_top_mm + row * (template.height_mm + sheet.gap_down_mm),
            )
        index += 1


class _Label:
    """One label, its upper left corner at a place of the canvas's page."""

    def __init__(
        self, canvas: Canvas, template: LabelTemplate, unit: UnitFacts, x_mm: float, y_mm: float
    ) -> None:
        self._canvas = canvas
        self._template = template
        self._unit = unit
        self._x_mm = x_mm
        self._y_mm = y_mm
        colours = _COLOURS[unit.verdict] if template.printer.colour else (black, white)
        self._ground, self._on_ground = colours

    def draw(self) -> None:
        self._draw_frame()
        if self._template.code is not None:
            self._draw_code(self._template.code)
        for field in self._template.field:
            words = self._words(field)
            if words:
                self._draw_text(words, field)

    def _words(self, field: TextField) -> str:
        told = {str(name): text for name, text in self._unit.texts.items()}
        if field.names and not any(told[name] for name in field.names):
            return ""
        return showable(field.text.format_map(told)).strip()

    def _draw_text(self, words: str, field: TextField) -> None:
        chosen = set_text(words, field)
        if chosen is None and field.instead is not None:
            chosen = set_text(showable(field.instead), field)
        if chosen is None:
            raise LabelRefused(self._too_long(words, field))
        ink: Color = black
        if field.ground is not Ground.NONE:
            colour, ink = (black, white) if field.ground is Ground.BLACK else (self._ground, self._on_ground)
            self._canvas.setFillColor(colour)
            self._rectangle(*field.place)
        self._canvas.setFillColor(ink)
        self._canvas.setFont(chosen.font, chosen.size_pt)
        x_mm, width_mm = room_mm(field)
        # A single line stands in the middle of its field, several begin at its top.
        free_pt = 0.0 if field.lines > 1 else field.height_mm * POINTS_PER_MM - chosen.height_pt
        above_pt = free_pt / 2 + chosen.first_baseline_pt
        for line in chosen.lines:
            self._draw_line(line, field.align, x_mm, width_mm, self._down_pt(field.y_mm) - above_pt)
            above_pt += chosen.height_pt / len(chosen.lines)

    def _draw_line(self, line: str, align: Align, x_mm: float, width_mm: float, y_pt: float) -> None:
        left_pt, width_pt = self._across_pt(x_mm), width_mm * POINTS_PER_MM
        if align is Align.LEFT:
            self._canvas.drawString(left_pt, y_pt, line)
        elif align is Align.CENTRE:
            self._canvas.drawCentredString(left_pt + width_pt / 2, y_pt, line)
        else:
            self._canvas.drawRightString(left_pt + width_pt, y_pt, line)

    def _draw_frame(self) -> None:
        """A frame as wide as the template says, with a thin black edge: yellow alone is nothing on some printers."""
        wide_mm = self._template.frame_mm
        if not wide_mm:
            return
        for inset_mm, colour in ((0.0, black), (_OUTLINE_MM, self._ground), (wide_mm, white)):
            self._canvas.setFillColor(colour)
            width_mm = self._template.width_mm - 2 * inset_mm
            height_mm = self._template.height_mm - 2 * inset_mm
            self._rectangle(inset_mm, inset_mm, width_mm, height_mm)

    def _draw_code(self, code: Code) -> None:
        found = self._symbol(code)
        # Whole dots in size and place, or modules come out of uneven width.
        dot_mm = self._template.printer.dot_mm
        module_mm = self._template.module_dots * dot_mm
        free_mm = (code.side_mm - found.modules * module_mm) / 2
        left_mm, top_mm = (
            round((label_mm + at_mm + free_mm) / dot_mm) * dot_mm - label_mm
            for label_mm, at_mm in ((self._x_mm, code.x_mm), (self._y_mm, code.y_mm))
        )
        self._canvas.setFillColor(black)
        left_mm, top_mm, less_mm = left_mm + _SPARED * dot_mm, top_mm + _SPARED * dot_mm, 2 * _SPARED * dot_mm
        for x, y, width, height in found.runs:
            self._rectangle(
                left_mm + x * module_mm,
                top_mm + y * module_mm,
                width * module_mm - less_mm,
                height * module_mm - less_mm,
            )

    def _symbol(self, code: Code) -> Symbol:
        unit = self._unit
        try:
            found = symbol(code_text(unit.code(code.holds)), code.kind)
        except (CodeTooLong, ValueError) as fault:
            raise LabelRefused(f"{self._name()}, code: {printable(str(fault))}") from None
        module_mm = self._template.module_dots * self._template.printer.dot_mm
        needs_mm = (found.modules + 2 * code.quiet_modules) * module_mm
        if needs_mm > code.side_mm:
            raise LabelRefused(
                f"{self._name()}, code: {', '.join(code.holds)} take {needs_mm:.2f} mm with the quiet zone, "
                f"side_mm is {code.side_mm:g}; allowed: a larger side_mm, a smaller module_mm, or less in holds"
            )
        return found

    def _too_long(self, words: str, field: TextField) -> str:
        least_pt = field.size_pt if field.least_pt is None else field.least_pt
        lines = "one line" if field.lines == 1 else f"{field.lines} lines"
        return (
            f"{self._name()}: the text {shown(field.text)} does not fit at {least_pt:g} pt into {lines} of "
            f"{field.width_mm:g} mm (given {shown(words)}); allowed: a wider field, more lines, a smaller size, "
            "or words to print instead"
        )

    def _name(self) -> str:
        return f"unit {printable(self._unit.serial, 60)} on label {self._template.name}"

    def _rectangle(self, x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> None:
        bottom_pt = self._down_pt(y_mm + height_mm)
        self._canvas.rect(
            self._across_pt(x_mm),
            bottom_pt,
            width_mm * POINTS_PER_MM,
            height_mm * POINTS_PER_MM,
            stroke=0,
            fill=1,
        )

    def _across_pt(self, x_mm: float) -> float:
        return (self._x_mm + x_mm) * POINTS_PER_MM

    def _down_pt(self, y_mm: float) -> float:
        return (self._template.page_mm[1] - self._y_mm - y_mm) * POINTS_PER_MM
