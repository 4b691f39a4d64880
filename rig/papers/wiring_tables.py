"""The schedules of a rig as rows of text, for paper and for spreadsheets."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

from wiring.circuit.copper import Circuit
from wiring.circuit.schedules import parts_list, pin_rows, terminal_rows
from wiring.profile import RigProfile


@dataclass(frozen=True, slots=True)
class PaperTable:
    """A table with its file name; `widths` are shares of the page's width."""

    file: str
    title: str
    columns: tuple[str, ...]
    widths: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]


def tables(profile: RigProfile, circuit: Circuit) -> tuple[PaperTable, ...]:
    """All schedules, in the order in which they are needed."""
    return (_wires(profile, circuit), _terminals(circuit), _pins(profile), _parts(circuit))


def csv_files(profile: RigProfile, circuit: Circuit) -> dict[str, bytes]:
    """Every schedule as a CSV file, by name."""
    return {table.file: _csv(table).encode() for table in tables(profile, circuit)}


def _wires(profile: RigProfile, circuit: Circuit) -> PaperTable:
    size = f"{profile.electrical.wire_mm2:g}"
    rows = tuple(
        (wire.number, wire.colour, size, str(wire.start), str(wire.end), wire.carries)
        for wire in circuit.wires()
    )
    columns = ("wire", "colour", "mm2", "from", "to", "carries")
    return PaperTable("wires.csv", "Wires", columns, (0.08, 0.09, 0.07, 0.19, 0.19, 0.38), rows)


def _terminals(circuit: Circuit) -> PaperTable:
    rows = tuple(
        (str(row.terminal), row.number, row.colour, row.inward, row.outward, row.carries)
        for row in terminal_rows(circuit)
    )
    columns = ("terminal", "wire", "colour", "one side", "other side", "carries")
    return PaperTable("terminals.csv", "Terminals", columns, (0.15, 0.08, 0.09, 0.16, 0.16, 0.36), rows)


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


def _csv(table: PaperTable) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(table.columns)
    writer.writerows([_harmless(cell) for cell in row] for row in table.rows)
    return text.getvalue()


def _harmless(cell: str) -> str:
    # A spreadsheet takes what begins with a sign for a formula, so designations go without their leading one.
    return ", ".join(part.removeprefix("-") for part in cell.split(", "))
