"""All sheets of a rig, in order, each with its title block."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rig.papers.drawing.pen import Pen
from rig.papers.drawing.shapes import Drawing
from rig.papers.wiring.adapters import adapter_sheet
from rig.papers.wiring.coils import coil_sheets
from rig.papers.wiring.elements import BOTTOM, LEFT, RIGHT
from rig.papers.wiring.header_map import header_sheet
from rig.papers.wiring.inputs import input_sheets
from rig.papers.wiring.modules import modules_sheet
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
        modules_sheet(profile, circuit),
        header_sheet(profile, circuit),
        adapter_sheet(circuit),
    )
    devices = [_drawn_on(sheet) for sheet in sheets]
    for number, sheet in enumerate(sheets, start=1):
        elsewhere = _elsewhere(number, devices)
        if elsewhere:
            Pen(sheet, circuit).text(LEFT + 4, BOTTOM - 3, f"also drawn: {elsewhere}", size=2.4)
        words = (stamp, sheet.title, f"rig {profile.name}", f"sheet {number} of {len(sheets)}")
        _title_block(Pen(sheet, circuit), words)
        sheet.name = f"{number:02d}-{sheet.name}"
    return sheets


def _drawn_on(sheet: Drawing) -> list[str]:
    """Devices with a terminal on a sheet, but for the board and the strips that everything is wired to."""
    names = {place.partition(":")[0] for place, _ in sheet.pins}
    return sorted(names - {"-A1", "-X3"})


def _elsewhere(number: int, devices: Sequence[list[str]]) -> str:
    """Where the other parts of a sheet's devices are: the coil of a contact, the monitor of a wire."""
    mine = devices[number - 1]
    shared = (
        (other, [name for name in mine if name in names])
        for other, names in enumerate(devices, start=1)
        if other != number
    )
    return "; ".join(f"{', '.join(names)} on sheet {other}" for other, names in shared if names)


def _title_block(pen: Pen, words: tuple[str, ...]) -> None:
    pen.box(LEFT, BOTTOM, RIGHT - LEFT, 10)
    for (start, _), text in zip(_CELLS, words, strict=True):
        pen.line((LEFT + start, BOTTOM), (LEFT + start, BOTTOM + 10))
        pen.text(LEFT + start + 2, BOTTOM + 6.2, text, size=3.0, bold=text == words[1])
