"""The open lots among the orders: what was entered and is not decided yet, and what is known of one."""

from __future__ import annotations

from pathlib import Path

from rig.journal import JournalError
from rig.lots.draw import place_of
from rig.lots.lot import NoLot
from rig.lots.record import LotRecord, open_lots
from rig.sampling.plan import NoSuchPlan
from rig.screen.listing import Row
from rig.screen.view.lines import Line, Role, Span, line, wrapped
from rig.screen.view.wording import Words

LOT = "lot/"
"""What the keys of rows begin with that are lots."""


def lot_rows(journal: Path | None, words: Words) -> list[Row]:
    """A heading and a row for each open lot; nothing where there is none, or none can be read."""
    records = [record for record in _records(journal) if record.lot.closed is None]
    rows = [Row("", line(Span(f" {words('lots.title')}", Role.DIM)))] if records else []
    return rows + [Row(f"{LOT}{one.lot.number}", _row(one, words)) for one in records]


def _row(record: LotRecord, words: Words) -> Line:
    standing = record.standing
    state = words("lots.stands", done=standing.tested, total=record.lot.sampling.units)
    return line(
        Span(f"{record.lot.number:<12} ", Role.WISH),
        Span(state, Role.WISH),
        Span(f"  {record.lot.opened.supplier}", Role.DIM),
    )


def lot_lines(journal: Path | None, number: str, words: Words, width: int) -> list[Line]:
    """What is known of a lot, as far as a panel has room."""
    record = next((one for one in _records(journal) if one.lot.number == number), None)
    if record is None:
        return []
    lot, standing = record.lot, record.standing
    facts = (
        (words("lots.supplier"), lot.opened.supplier),
        (words("lots.note"), lot.opened.delivery_note),
        (words("orders.type"), lot.opened.sensor_type),
        (words("orders.quantity"), str(lot.quantity)),
        (words("lots.plan"), lot.receiving.title),
        (words("lots.sample"), f"{lot.sampling.units}, {words('lots.found', found=standing.defective)}"),
    )
    column = max(len(name) for name, _ in facts) + 1
    lines = [line(Span(lot.number, Role.STRONG))]
    lines += [line(Span(f"{name:<{column}}", Role.DIM), value) for name, value in facts]
    left = " ".join(str(place_of(serial)) for serial in standing.left)
    lines += [
        line(),
        *(line(text) for text in wrapped(f"{words('lots.left')} {left}" if left else "", width - 1, 8)),
    ]
    return lines


def _records(journal: Path | None) -> list[LotRecord]:
    if journal is None or not journal.is_file():
        return []
    try:
        with open_lots(journal) as lots:
            return [lots.record(number) for number in lots.numbers()]
    except (JournalError, NoLot, NoSuchPlan):
        return []
