"""All sheets of a rig, in order, each with its title block."""

from __future__ import annotations

from collections.abc import Iterator

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import Drawing
from rig.papers.wiring.adapters import adapter_sheet
from rig.papers.wiring.coils import coil_sheets
from rig.papers.wiring.elements import BOTTOM, LEFT, RIGHT
from rig.papers.wiring.header_map import header_sheet
from rig.papers.wiring.inputs import input_sheets
from rig.papers.wiring.overview import overview_sheet
from rig.papers.wiring.supplies import supplies_sheet
from rig.papers.wiring.unit_circuit import unit_sheet
from wiring.circuit.copper import Circuit
from wiring.profile import RigProfile

_CELLS = ((0.0, 34.0), (34.0, 120.0), (154.0, 95.0), (249.0, 32.0))


def circuit_sheets(profile: RigProfile, circuit: Circuit) -> Iterator[Drawing]:
    """The circuit diagram."""
    yield supplies_sheet(profile, circuit)
    for index, nest in enumerate(profile.nest, start=1):
        yield unit_sheet(nest, index, circuit)
    yield from coil_sheets(profile, circuit)
    yield from input_sheets(profile, circuit)


def all_sheets(profile: RigProfile, circuit: Circuit, stamp: str) -> tuple[Drawing, ...]:
    """Every sheet with its title block; `stamp` tells from which contents it was drawn."""
    sheets = (
        overview_sheet(profile, circuit),
        *circuit_sheets(profile, circuit),
        header_sheet(profile, circuit),
        adapter_sheet(circuit),
    )
    for number, sheet in enumerate(sheets, start=1):
        words = (stamp, sheet.title, f"rig {profile.name}", f"sheet {number} of {len(sheets)}")
        _title_block(Pen(sheet, circuit), words)
        sheet.name = f"{number:02d}-{sheet.name}"
    return sheets


def _title_block(pen: Pen, words: tuple[str, ...]) -> None:
    pen.box(LEFT, BOTTOM, RIGHT - LEFT, 10)
    for (start, _), text in zip(_CELLS, words, strict=True):
        pen.line((LEFT + start, BOTTOM), (LEFT + start, BOTTOM + 10))
        pen.text(LEFT + start + 2, BOTTOM + 6.2, text, size=3.0, bold=text == words[1])
