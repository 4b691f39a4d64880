"""The schedules of a rig as rows of text, for paper and for spreadsheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rig.papers.drawing.shapes import Drawing
from wiring.circuit import colours
from wiring.circuit.copper import Circuit
from wiring.circuit.schedules import parts_list, pin_rows, terminal_rows
from wiring.circuit.serial import serial_instruments
from wiring.profile import RigProfile

# IEC 60204-1 wants no less for protective bonding that nothing else protects from breaking (from memory).
_EARTH_MM2 = 2.5


@dataclass(frozen=True, slots=True)
class PaperTable:
    """A table with its file name; `widths` are shares of the page's width."""

    file: str
    title: str
    columns: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]


def tables(profile: RigProfile, circuit: Circuit, sheets: Sequence[Drawing]) -> tuple[PaperTable, ...]:
    """All lists, in the order in which they are needed."""
    return (
        _parts(circuit),
        _devices(circuit, sheets),
        _pins(profile),
        _terminals(circuit),
        _wires(profile, circuit),
        *_ports(profile),
    )


def csv_text(table: PaperTable) -> str:
    """The table as a CSV file, for a spreadsheet."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(table.columns)
    writer.writerows([_harmless(cell) for cell in row] for row in table.rows)
    return text.getvalue()


def _devices(circuit: Circuit, sheets: Sequence[Drawing]) -> PaperTable:
    """Where each device is drawn: its coil on one sheet, its contacts on another."""
    rows = tuple(
        (device.name, device.kind, device.duty, ", ".join(_sheets_of(device.name, sheets)))
        for device in sorted(circuit.devices, key=lambda device: device.name)
    )
    columns = ("device", "part", "what it does", "drawn on sheet")
    return PaperTable("devices.csv", "Devices", columns, (0.1, 0.2, 0.52, 0.18), rows)


def _sheets_of(name: str, sheets: Sequence[Drawing]) -> Iterator[str]:
    for number, sheet in enumerate(sheets, start=1):
        if any(place.partition(":")[0] == name for place, _ in sheet.pins):
            yield str(number)


def _wires(profile: RigProfile, circuit: Circuit) -> PaperTable:
    """Every wire, with room to tick off that it is laid, and that it leads where it should."""
    usual_mm2 = profile.electrical.wire_mm2
    rows = tuple(
        (
            wire.number,
            wire.colour,
            f"{max(usual_mm2, _EARTH_MM2) if wire.colour == colours.EARTH else usual_mm2:g}",
            str(wire.start),
            str(wire.end),
            wire.carries,
            "",
            "",
        )
        for wire in circuit.wires()
    )
    columns = ("wire", "colour", "mm2", "from", "to", "carries", "laid", "tested")
    widths = (0.07, 0.08, 0.06, 0.15, 0.15, 0.35, 0.06, 0.08)
    return PaperTable("wires.csv", "Wires", columns, widths, rows)


def _terminals(circuit: Circuit) -> PaperTable:
    rows = tuple(
        (str(row.terminal), row.number, row.colour, row.inward, row.outward, row.carries)
        for row in terminal_rows(circuit)
    )
    columns = ("terminal", "wire", "colour", "one side", "other side", "carries")
    return PaperTable("terminals.csv", "Terminals", columns, (0.15, 0.08, 0.09, 0.16, 0.16, 0.36), rows)


def _ports(profile: RigProfile) -> Iterator[PaperTable]:
    """What is plugged in rather than wired; a rig without any has no such list."""
    rows = tuple((one.name, one.what, one.port, one.speaks) for one in serial_instruments(profile))
    if rows:
        columns = ("device", "part", "port", "speaks")
        yield PaperTable("ports.csv", "Serial ports", columns, (0.08, 0.16, 0.31, 0.45), rows)


def _pins(profile: RigProfile) -> PaperTable:
    rows = tuple(
        (
            "" if row.pin is None else str(row.pin),
            row.carries,
            row.direction,
            row.active,
            row.duty,
            row.wired_to,
        )
        for row in pin_rows(profile)
    )
    columns = ("pin", "carries", "direction", "on is", "for", "wired to")
    return PaperTable("pins.csv", "Header pins", columns, (0.07, 0.13, 0.12, 0.09, 0.42, 0.17), rows)


def _parts(circuit: Circuit) -> PaperTable:
    rows = tuple(
        (str(part.count), part.kind, part.rating, ", ".join(part.names)) for part in parts_list(circuit)
    )
    return PaperTable(
        "parts.csv", "Parts", ("count", "part", "rating", "names"), (0.07, 0.17, 0.56, 0.2), rows
    )


def _harmless(cell: str) -> str:
    # A spreadsheet takes what begins with a sign for a formula, so designations go without their leading one.
    return ", ".join(part.removeprefix("-") for part in cell.split(", "))
