"""Label templates: what stands on a label and where, as data.

Lengths in mm from the upper left corner of the label, text sizes in points. Shipped ones are in `labels/`.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from pathlib import Path

from pydantic import Field

from rig.papers.label_parts import ROUNDING_MM, Code, Place, Printer, Sheet, Shown, TextField, Use
from sequences.words import Line
from wiring.tomlfile import Contradiction, DataModel, load_toml_model

# One dot more or less of ink must not close or open a module; common practice, no source.
_FEWEST_DOTS = 3
# How far a module may be from a whole number of dots, in dots.
_OFF_DOTS = 0.15


USUAL_TEMPLATES = {Use.GOOD: "unit-roll", Use.DO_NOT_USE: "do-not-use"}
"""The shipped templates that are taken where none is named."""


class LabelTemplate(DataModel):
    """A label: its size, what it is for, its texts and its code."""

    name: str = Field(
        max_length=40,
        pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$",
        description="name of the template, lower-case letters, digits and single hyphens",
    )
    title: Line = Field(description="what a person calls it, printable, on one line")
    use: Use = Field(description="which units it is for")
    width_mm: float = Field(ge=10, le=300, description="mm from the label's left to its right edge")
    height_mm: float = Field(ge=5, le=300, description="mm from the label's upper to its lower edge")
    frame_mm: float = Field(
        0.0,
        ge=0,
        le=5,
        description="mm of a frame inside the label's edge, in the colour of the verdict; 0: none",
    )
    printer: Printer = Field(description="what the label is printed on")
    sheet: Sheet | None = Field(None, description="how labels lie on a sheet; left out for a roll")
    code: Code | None = Field(None, description="the machine-readable code; left out: none")
    field: tuple[TextField, ...] = Field(min_length=1, max_length=40, description="the texts")

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height in mm of what goes through the printer at once."""
        return self.sheet.paper.size_mm if self.sheet else (self.width_mm, self.height_mm)

    @property
    def module_dots(self) -> int:
        """Dots of the printer on a side of one module; 0 without a code."""
        return round(self.code.module_mm / self.printer.dot_mm) if self.code else 0

    def contradictions(self) -> Iterator[Contradiction]:
        """Yield what lies off the label or on one another, a sheet too small, a module no printer prints."""
        yield from self._off_the_label()
        yield from self._overlapping()
        yield from self._untold()
        if self.code is not None:
            yield from self._module_off_dots(self.code.module_mm)
        if self.sheet is not None:
            yield from self._off_the_sheet(self.sheet)

    def _parts(self) -> Iterator[tuple[tuple[str | int, ...], str, Place]]:
        for index, one in enumerate(self.field):
            yield ("field", index), "width_mm", one.place
        if self.code is not None:
            yield ("code",), "side_mm", self.code.place

    def _off_the_label(self) -> Iterator[Contradiction]:
        edge_mm = self.frame_mm
        for path, size, place in self._parts():
            ends_mm = place.x_mm + place.width_mm, place.y_mm + place.height_mm
            whole_mm = self.width_mm - edge_mm, self.height_mm - edge_mm
            if min(place.x_mm, place.y_mm) < edge_mm - ROUNDING_MM or any(
                end > whole + ROUNDING_MM for end, whole in zip(ends_mm, whole_mm, strict=True)
            ):
                yield Contradiction(
                    (*path, size),
                    "goes beyond the label" if not edge_mm else "goes beyond the label's frame",
                    given=f"x {place.x_mm:g} to {ends_mm[0]:g}, y {place.y_mm:g} to {ends_mm[1]:g} mm",
                    allowed=f"x {edge_mm:g} to {whole_mm[0]:g}, y {edge_mm:g} to {whole_mm[1]:g} mm",
                )

    def _overlapping(self) -> Iterator[Contradiction]:
        for (_, _, place), (path, size, later) in combinations(self._parts(), 2):
            if place.meets(later):
                yield Contradiction(
                    (*path, size),
                    "lies over another part of the label",
                    given=f"x {later.x_mm:g}, y {later.y_mm:g}, {later.width_mm:g} x {later.height_mm:g} mm",
                    allowed=f"what does not touch x {place.x_mm:g} to {place.x_mm + place.width_mm:g}, "
                    f"y {place.y_mm:g} to {place.y_mm + place.height_mm:g} mm",
                )

    def _untold(self) -> Iterator[Contradiction]:
        told = {name for one in self.field for name in one.names}
        for name in (Shown.SERIAL, Shown.VERDICT):
            if name not in told:
                yield Contradiction(
                    ("field",), "no text tells {" + name + "}", allowed="at least {serial} and {verdict}"
                )

    def _module_off_dots(self, module_mm: float) -> Iterator[Contradiction]:
        dots = module_mm / self.printer.dot_mm
        if dots < _FEWEST_DOTS - _OFF_DOTS or abs(dots - round(dots)) > _OFF_DOTS:
            fewer = max(_FEWEST_DOTS, int(dots))
            sides_mm = [f"{self.printer.dot_mm * count:.3f}" for count in (fewer, fewer + 1)]
            yield Contradiction(
                ("code", "module_mm"),
                f"is no whole number of dots at {self.printer.dpi} dpi, {_FEWEST_DOTS} at least",
                given=f"{module_mm:g}, {dots:.2f} dots",
                allowed=f"such as {sides_mm[0]} or {sides_mm[1]}",
            )

    def _off_the_sheet(self, sheet: Sheet) -> Iterator[Contradiction]:
        across_mm, down_mm = sheet.paper.size_mm
        for key, used_mm, there_mm in (
            (
                "columns",
                _run_mm(sheet.margin_left_mm, sheet.columns, self.width_mm, sheet.gap_across_mm),
                across_mm,
            ),
            ("rows", _run_mm(sheet.margin_top_mm, sheet.rows, self.height_mm, sheet.gap_down_mm), down_mm),
        ):
            if used_mm > there_mm + ROUNDING_MM:
                yield Contradiction(
                    ("sheet", key),
                    f"the labels go beyond the sheet: they take {used_mm:g} mm",
                    allowed=f"what takes up to {there_mm:g} mm with margin, labels and gaps",
                )


def _run_mm(margin_mm: float, count: int, size_mm: float, gap_mm: float) -> float:
    return margin_mm + count * size_mm + (count - 1) * gap_mm


def load_label(path: Path) -> LabelTemplate:
    """Read a label template. Raises `DataFileError`."""
    return load_toml_model(path, LabelTemplate, what="label template")
