"""`teachrig lot show`: a lot as it stands, or all of them."""

from __future__ import annotations

from argparse import Namespace

from rig.cli.exits import Exit, narrate, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.cli.lots.common import asked_lots, journal_of, known
from rig.cli.lots.text import lot_as_dict, print_decision, print_lot
from rig.lots.record import LotRecord
from rig.lots.report import state_of
from wiring.plainwords import printable

_COLUMNS = ("lot", "supplier", "sensor type", ">units", ">tested", ">found", "state")


def command(options: Namespace) -> int:
    """Show one or all."""
    if options.lot is None:
        return _list(options)
    where = "the shop's database" if options.shop else printable(str(journal_of(options)))
    with asked_lots(options) as lots:
        record = known(lots, options.lot, where)
        history = lots.history(record.lot.opened.supplier, record.lot.opened.sensor_type)
    with reader_may_leave():
        if options.json:
            print_json(lot_as_dict(record))
        else:
            print_lot(record)
            if record.lot.closed is None:
                narrate(
                    f"next: teachrig lot {'run' if record.standing.decision is None else 'close'} {options.lot}"
                )
            else:
                print_decision(record, history)
    return Exit.DONE


def _list(options: Namespace) -> int:
    with asked_lots(options) as lots:
        records = [lots.record(number) for number in lots.numbers()]
    with reader_may_leave():
        if options.json:
            print_json([lot_as_dict(record) for record in records])
        elif records:
            Page().table(_COLUMNS, [_row(record) for record in records])
        else:
            print(
                "no lot was opened yet; next: teachrig lot open LOT --supplier NAME --note TEXT --type TYPE "
                "--quantity N"
            )
    return Exit.DONE


def _row(record: LotRecord) -> tuple[str, ...]:
    lot, standing = record.lot, record.standing
    units = f"{standing.tested}/{lot.sampling.units}"
    figures = (str(lot.quantity), units, str(standing.defective))
    return (lot.number, lot.opened.supplier, lot.opened.sensor_type, *figures, state_of(record))
