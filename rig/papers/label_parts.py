"""The parts of a label template: texts, code, printer and sheet, each a table of the file.

Lengths in mm from the upper left corner of the label, text sizes in points.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum
from string import Formatter
from typing import Annotated, NamedTuple

from pydantic import AfterValidator, Field

from sequences.words import Line
from wiring.tomlfile import Contradiction, DataModel

MM_PER_INCH = 25.4
POINTS_PER_MM = 72 / MM_PER_INCH
LEADING = 1.2
"""Height of a line of text, in sizes of its letters."""

ROUNDING_MM = 0.01
"""What a PDF and a printer round away."""


class Shown(StrEnum):
    """What a text of a label can name in {braces}."""

    SERIAL = "serial"
    ORDER = "order"
    CUSTOMER = "customer"
    TYPE = "type"
    TITLE = "title"
    MODE = "mode"
    OUTPUT_FUNCTION = "output_function"
    OUTPUT_TYPE = "output_type"
    SET_POINTS = "set_points"
    TOLERANCE = "tolerance"
    DESIGNATION = "designation"
    DATE = "date"
    VERDICT = "verdict"
    REASON = "reason"
    WORDS = "words"


class Use(StrEnum):
    """Which units a label is for: good ones, or all others that have a verdict."""

    GOOD = "good"
    DO_NOT_USE = "do-not-use"


class CodeKind(StrEnum):
    """A kind of machine-readable code: ISO/IEC 16022 (ECC 200) or ISO/IEC 18004."""

    DATA_MATRIX = "data-matrix"
    QR = "qr"


# Least quiet zone in modules, and modules on a side of the smallest code.
LEAST_QUIET: Mapping[CodeKind, int] = {CodeKind.DATA_MATRIX: 1, CodeKind.QR: 4}
_SMALLEST_CODE: Mapping[CodeKind, int] = {CodeKind.DATA_MATRIX: 10, CodeKind.QR: 21}


class CodeDatum(StrEnum):
    """What a code can hold."""

    SERIAL = "serial"
    ORDER = "order"
    TYPE = "type"
    DATE = "date"


class TooLong(StrEnum):
    """What becomes of a text that does not fit its field: set smaller, down to a least size, or refused."""

    SMALLER = "smaller"
    REFUSE = "refuse"


class Align(StrEnum):
    """Where in its field a text stands."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


class Ground(StrEnum):
    """What is behind a text: nothing, black, or the colour of the verdict (IEC 60073)."""

    NONE = "none"
    BLACK = "black"
    VERDICT = "verdict"


class Paper(StrEnum):
    """A sheet that labels come on."""

    A4 = "A4"
    LETTER = "Letter"

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height in mm (ISO 216; ANSI/ASME Y14.1)."""
        return (210.0, 297.0) if self is Paper.A4 else (215.9, 279.4)


class Place(NamedTuple):
    """A rectangle on a label, in mm from its upper left corner."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    def meets(self, other: Place) -> bool:
        """Whether two rectangles have more than an edge in common."""
        return (
            min(self.x_mm + self.width_mm, other.x_mm + other.width_mm) - max(self.x_mm, other.x_mm)
            > ROUNDING_MM
            and min(self.y_mm + self.height_mm, other.y_mm + other.height_mm) - max(self.y_mm, other.y_mm)
            > ROUNDING_MM
        )


_NAMES = frozenset(Shown)


def _known_names(text: str) -> str:
    try:
        parts = list(Formatter().parse(text))
    except ValueError:
        raise ValueError("has a brace without its partner; {{ and }} print a brace") from None
    for _, name, form, conversion in parts:
        if name is not None and (name not in _NAMES or form or conversion):
            raise ValueError(f"names {{{name}}}, which no label knows; known: {', '.join(Shown)}")
    return text


LabelText = Annotated[Line, AfterValidator(_known_names)]

XMm = Annotated[float, Field(ge=0, le=300, description="mm from the label's left edge")]
YMm = Annotated[float, Field(ge=0, le=300, description="mm from the label's upper edge")]


class TextField(DataModel):
    """One text of a label; left out where nothing that it names is known, such as no reference designation."""

    text: LabelText = Field(
        description="what it says; {serial} and the like stand for what is known of the unit, {{ for a brace"
    )
    x_mm: XMm
    y_mm: YMm
    width_mm: float = Field(gt=0, le=300, description="mm from its left to its right edge")
    height_mm: float = Field(gt=0, le=300, description="mm from its upper to its lower edge")
    size_pt: float = Field(ge=4, le=200, description="size of the letters, in points")
    too_long: TooLong = Field(description="what becomes of a text that does not fit")
    least_pt: float | None = Field(
        None, ge=4, le=200, description='least size of the letters with too_long = "smaller", in points'
    )
    instead: Line | None = Field(
        None, description="what is printed in place of a text that does not fit, rather than no label at all"
    )
    lines: int = Field(1, ge=1, le=20, description="most lines that the text may take")
    align: Align = Field(Align.LEFT, description="where in its field the text stands")
    bold: bool = Field(False, description="whether the letters are bold")
    ground: Ground = Field(Ground.NONE, description="what is behind the text")

    @property
    def place(self) -> Place:
        """Its rectangle."""
        return Place(self.x_mm, self.y_mm, self.width_mm, self.height_mm)

    @property
    def names(self) -> tuple[Shown, ...]:
        """What it tells of the unit."""
        return tuple(Shown(name) for _, name, _, _ in Formatter().parse(self.text) if name is not None)

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a least size that is missing, useless or too large, and letters higher than their field."""
        if (self.least_pt is not None) != (self.too_long is TooLong.SMALLER):
            yield Contradiction(
                ("least_pt",),
                "a least size and setting text smaller belong together",
                given=f"too_long = {self.too_long}",
                allowed='too_long = "smaller" with least_pt, or too_long = "refuse" without',
            )
        if self.least_pt is not None and self.least_pt > self.size_pt:
            yield Contradiction(
                ("least_pt",), "is more than size_pt", allowed=f"up to size_pt = {self.size_pt:g}"
            )
        highest_pt = self.height_mm * POINTS_PER_MM / LEADING
        if self.size_pt > highest_pt:
            yield Contradiction(
                ("size_pt",),
                f"a line of it is higher than height_mm = {self.height_mm:g}",
                allowed=f"up to {int(highest_pt * 10) / 10:g}",
            )


class Code(DataModel):
    """The machine-readable code: square, in a field that includes its quiet zone."""

    kind: CodeKind = Field(description="Data Matrix takes the least room; QR is what a telephone reads")
    x_mm: XMm
    y_mm: YMm
    side_mm: float = Field(gt=0, le=200, description="mm of a side of its field, quiet zone included")
    module_mm: float = Field(
        ge=0.25, le=2, description="mm of a side of one module; drawn as a whole number of the printer's dots"
    )
    quiet_modules: int = Field(ge=1, le=20, description="free modules on every side")
    holds: tuple[CodeDatum, ...] = Field(
        min_length=1,
        max_length=4,
        description="what a scan tells; the serial leads to the record, which has all",
    )

    @property
    def place(self) -> Place:
        """Its rectangle."""
        return Place(self.x_mm, self.y_mm, self.side_mm, self.side_mm)

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield a quiet zone that readers need larger, a code without serial, and one that nothing fits into."""
        if self.quiet_modules < LEAST_QUIET[self.kind]:
            yield Contradiction(
                ("quiet_modules",),
                f"readers of {self.kind} need more",
                allowed=f"{LEAST_QUIET[self.kind]} or more",
            )
        if CodeDatum.SERIAL not in self.holds or len(set(self.holds)) < len(self.holds):
            yield Contradiction(
                ("holds",),
                "must hold the serial, and everything once",
                given=", ".join(self.holds),
                allowed=", ".join(CodeDatum),
            )
        least_mm = (_SMALLEST_CODE[self.kind] + 2 * self.quiet_modules) * self.module_mm
        if self.side_mm < least_mm:
            yield Contradiction(
                ("side_mm",), "the smallest code does not fit", allowed=f"{least_mm:.2f} or more"
            )


class Printer(DataModel):
    """What the label is printed on."""

    dpi: int = Field(ge=150, le=2400, description="dots per inch of the printer")
    colour: bool = Field(description="whether it prints in colour; without, every ground is black")

    @property
    def dot_mm(self) -> float:
        """A side of one dot in mm."""
        return MM_PER_INCH / self.dpi


class Sheet(DataModel):
    """A sheet of labels, filled row by row."""

    paper: Paper = Field(description="size of the sheet")
    columns: int = Field(ge=1, le=50, description="labels beside one another")
    rows: int = Field(ge=1, le=100, description="labels below one another")
    margin_left_mm: float = Field(
        ge=0, le=100, description="mm from the sheet's left edge to the first label"
    )
    margin_top_mm: float = Field(
        ge=0, le=100, description="mm from the sheet's upper edge to the first label"
    )
    gap_across_mm: float = Field(0.0, ge=0, le=100, description="mm between labels beside one another")
    gap_down_mm: float = Field(0.0, ge=0, le=100, description="mm between labels below one another")

    @property
    def labels(self) -> int:
        """How many labels a sheet has."""
        return self.columns * self.rows
