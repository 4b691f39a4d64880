"""What all acts need: the lot in the record, who does it, and the way to enter what is said of it."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from rig.cli.exits import Exit, GiveUp
from rig.cli.inputs import data_folder, open_library, person_named, read_or_give_up
from rig.events import Event
from rig.journal import JournalError
from rig.lots.lot import NoLot
from rig.lots.record import LotRecord, Lots, open_lots
from rig.noting import note
from rig.sampling.plan import NoSuchPlan
from rig.session import JOURNAL_NAME
from sequences.order import OrderNumber
from sequences.receiving import ReceivingPlan
from sequences.sensor_type import SensorType
from wiring.plainwords import near_miss, printable, shown


def journal_of(options: Namespace) -> Path:
    """Where the record is."""
    return data_folder(options.data) / JOURNAL_NAME


@contextmanager
def asked_lots(options: Namespace) -> Iterator[Lots]:
    """The lots of this bench, or with `--shop` of all benches of the shop."""
    if not options.shop:
        with lots_in(journal_of(options)) as lots:
            yield lots
        return
    # Only here: SQLAlchemy takes longer to load than all the rest.
    from rig.cli.asking import opened_store
    from rig.store.shop import ShopDatabase

    try:
        with opened_store(options) as store:
            yield Lots(ShopDatabase(store.connection))
    except (NoLot, NoSuchPlan) as why:
        raise GiveUp(Exit.BAD_INPUT, f"the shop's database: {printable(str(why))}") from None


@contextmanager
def lots_in(journal: Path) -> Iterator[Lots]:
    """The lots of a record; what is wrong with it, or that there is no such lot, becomes bad input."""
    try:
        with open_lots(journal) as lots:
            yield lots
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    except (NoLot, NoSuchPlan) as why:
        raise GiveUp(Exit.BAD_INPUT, f"{printable(str(journal))}: {printable(str(why))}") from None


def record_of(journal: Path, number: str) -> LotRecord:
    """A lot with its units; gives up on one that is not known."""
    with lots_in(journal) as lots:
        return known(lots, number, printable(str(journal)))


def known(lots: Lots, number: str, where: str) -> LotRecord:
    """The same of open lots; `where` names them in the message."""
    if not lots.knows(number):
        near = near_miss(number, lots.numbers())
        words = f"{where}: knows no lot {printable(number)}{near}; allowed: lots as recorded"
        raise GiveUp(Exit.BAD_INPUT, words)
    return lots.record(number)


def open_record_of(journal: Path, number: str) -> LotRecord:
    """The same of a lot that is not decided yet."""
    record = record_of(journal, number)
    if record.lot.closed is not None:
        raise GiveUp(
            Exit.BAD_INPUT,
            f"lot {number} was {record.lot.closed.decision} on {record.lot.closed_utc[:10]}; allowed: teachrig lot "
            f"show {number}, or teachrig lot reopen {number} --why WORDS",
        )
    return record


def enter(journal: Path, number: str, *events: Event, serial: str = "") -> None:
    """Enter what is said of a lot into the record."""
    try:
        note(journal, f"lot-{number}", ((number, serial, event) for event in events))
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT, str(failure)) from None


def person_of(options: Namespace) -> str:
    """Who does it; empty if nobody is named."""
    return "" if options.by is None else person_named("--by", options.by)


def read_plan(name_or_path: str) -> tuple[ReceivingPlan, SensorType]:
    """A receiving plan and its sensor type."""
    library = open_library()
    return read_or_give_up(lambda: library.read_receiving(name_or_path))


def lot_number(text: str) -> str:
    """A number that a lot may have; gives up on any other."""
    try:
        return TypeAdapter(OrderNumber).validate_python(text)
    except ValidationError:
        allowed = "up to 30 letters, digits, . _ and -, with a letter or digit first"
        raise GiveUp(
            Exit.BAD_INPUT, f"LOT is no number of a lot (given {shown(text)}); allowed: {allowed}"
        ) from None
