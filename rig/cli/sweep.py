"""`teachrig plan --sweep`: where set points go, as a table on the terminal, JSON or a CSV file."""

from __future__ import annotations

import csv
import io
from argparse import Namespace
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.writing import write_file
from rig.csvtext import harmless
from rig.planning.planned import POINT_NAMES, Planned, spoken
from rig.planning.sweep import SPANS, Quantity, Sweep, SweepRefused, sweep_of
from rig.planning.swept import AIRS, POINT_OF, SERVES, Column, SweepRow, SweepTable, sweep_table
from sequences.words import SetPoint

_HEADERS = {
    "temperature_c": "\u00b0C",
    "humidity_percent": "humidity %",
    "pressure_kpa": "kPa",
    "altitude_m": "altitude m",
    "set_point_mm": "set point mm",
    "near_mm": "near mm",
    "far_mm": "far mm",
    "tolerance_mm": "tolerance mm",
    "sound_m_s": "sound m/s",
    "mm": "goes to mm",
    "moved_mm": "moved mm",
    "doubt_mm": "+/- mm",
    "bench_mm": "bench mm",
    "margin_db": "echo dB",
    "guard_mm": "guard mm",
    "finest_mm": "finest tolerance mm",
    "undecided_percent": "undecided %",
}


def read_sweep(words: str) -> Sweep:
    """What `--sweep` asks for; bad input otherwise."""
    try:
        return sweep_of(words)
    except SweepRefused as refused:
        raise GiveUp(Exit.BAD_INPUT, f"--sweep: {refused}") from None


def print_sweep(planned: Planned, options: Namespace) -> None:
    """Print the table of a sweep, or write it where `--csv` says."""
    wanted = read_sweep(options.sweep)
    try:
        table = sweep_table(planned, wanted)
    except SweepRefused as refused:
        raise GiveUp(Exit.BAD_INPUT, f"--sweep: {refused}") from None
    if options.csv is not None:
        write_file(options.csv, csv_text(table).encode(), force=options.force)
        narrate(f"{len(table.rows)} rows: {options.csv}")
    if options.json:
        print_json(_as_dict(planned, wanted, table))
    elif options.csv is None:
        _print_tables(planned, wanted, table, Page())


def csv_text(table: SweepTable) -> str:
    """The table as CSV (RFC 4180): one header row, decimal points, no text that a spreadsheet would work out."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(_flat_names(table))
    for row in table.rows:
        figures = [*row.lead, *(cell for cells in row.points for cell in cells)]
        decimals = [column.decimals for column in _flat_columns(table)]
        writer.writerow([*map(_figure, figures, decimals), harmless(row.serves)])
    return text.getvalue()


def _flat_columns(table: SweepTable) -> Iterator[Column]:
    yield from table.lead
    for _ in table.points:
        yield from table.point


def _flat_names(table: SweepTable) -> list[str]:
    lead = [column.name for column in table.lead]
    return [
        *lead,
        *(f"{_code(point)}_{column.name}" for point in table.points for column in table.point),
        "serves",
    ]


def _code(point: SetPoint) -> str:
    return "set_point" if point is SetPoint.ONLY else str(point)


def _figure(value: float, decimals: int | None) -> str:
    if decimals is None:
        return f"{value:.10g}"
    # Adding 0 makes 0 of what would else be printed as -0.
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


def _print_tables(planned: Planned, wanted: Sweep, table: SweepTable, page: Page) -> None:
    order, plan = planned.case.order, planned.plan
    span = f"{wanted.values[0]:g} to {wanted.values[-1]:g} {SPANS[wanted.quantity][2]}"
    page.say(f"order {order.number}, {plan.sensor_type}: {wanted.quantity} from {span}")
    page.say(_meaning(planned, wanted))
    why_not = {words: number for number, words in enumerate(_first_of_each(table.rows), start=1)}
    for index, point in enumerate(table.points):
        # While one end of a window is swept, the other stays as it is.
        if POINT_OF.get(wanted.quantity, point) is point:
            taught = (
                f", taught for {planned.setting.set_points_mm[point]:g} mm" if wanted.quantity in AIRS else ""
            )
            page.heading(f"{POINT_NAMES[point]}{taught}")
            columns = [f">{_HEADERS[column.name]}" for column in (*table.lead, *table.point)]
            page.table([*columns, "serves"], (_cells(table, row, index, why_not) for row in table.rows))
    for words, number in why_not.items():
        page.item(f"no ({number}): {spoken(words)}")


def _meaning(planned: Planned, wanted: Sweep) -> str:
    if wanted.quantity in AIRS:
        return (
            f"Where a unit that is taught as planned switches in other air, with {_held(planned, wanted.quantity)}; "
            "and where the target would stand on the bench to have it right there."
        )
    return (
        "Where the target would stand on the bench, what the rig could prove there and how well the object is heard. "
        "A plan of that order has the last word."
    )


def _held(planned: Planned, swept: Quantity) -> str:
    """What of the machine's air stays as planned."""
    air = planned.case.conditions.machine
    parts = {
        Quantity.TEMPERATURE: f"{air.temperature_c:g} \u00b0C",
        Quantity.HUMIDITY: f"{air.humidity_percent:g} % humidity",
        Quantity.PRESSURE: f"{air.pressure_kpa:.4g} kPa",
    }
    changed = Quantity.PRESSURE if swept is Quantity.ALTITUDE else swept
    return " and ".join(words for quantity, words in parts.items() if quantity is not changed)


def _first_of_each(rows: Iterable[SweepRow]) -> list[str]:
    return list(dict.fromkeys(row.serves for row in rows if row.serves != SERVES))


def _cells(table: SweepTable, row: SweepRow, index: int, why_not: Mapping[str, int]) -> list[str]:
    figures, columns = (*row.lead, *row.points[index]), (*table.lead, *table.point)
    serves = SERVES if row.serves == SERVES else f"no ({why_not[row.serves]})"
    return [
        *(_figure(value, column.decimals) for value, column in zip(figures, columns, strict=True)),
        serves,
    ]


def _as_dict(planned: Planned, wanted: Sweep, table: SweepTable) -> dict[str, Any]:
    names = _flat_names(table)
    return {
        "order": planned.case.order.number,
        "sensor_type": planned.plan.sensor_type,
        "rig": planned.case.rig.name,
        "quantity": wanted.quantity,
        "rows": [
            dict(
                zip(
                    names,
                    (*row.lead, *(cell for cells in row.points for cell in cells), row.serves),
                    strict=True,
                )
            )
            for row in table.rows
        ],
    }
