"""The units of the record that a command was asked for, and the papers of them that it enters there."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from pydantic import ValidationError

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.no_unit import no_such_unit
from rig.events import DocumentMade
from rig.journal import JournalError
from rig.noting import note
from rig.records import Records, open_records
from sequences.order import Order
from wiring.plainwords import printable


@contextmanager
def records_for(options: Namespace, journal: Path) -> Iterator[tuple[Records, tuple[str, ...]]]:
    """The record and the serials that were asked for, each once; gives up on a serial or an order it does not know."""
    if bool(options.serials) == (options.order is not None):
        words = "either units or an order; allowed: SERIAL..., or --order NUMBER"
        raise GiveUp(Exit.BAD_INPUT, words)
    with opened(journal) as records:
        yield records, tuple(dict.fromkeys(_serials(options, records, printable(str(journal)))))


@contextmanager
def opened(journal: Path) -> Iterator[Records]:
    """The record; what is wrong with it becomes bad input."""
    try:
        with open_records(journal) as records:
            yield records
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None


def _serials(options: Namespace, records: Records, journal: str) -> tuple[str, ...]:
    if options.order is not None:
        return _serials_of(options.order, records, journal)
    for serial in options.serials:
        if not records.attempts(serial):
            no_such_unit(records, serial, journal)
    return tuple(options.serials)


def _serials_of(number: str, records: Records, journal: str) -> tuple[str, ...]:
    inputs = records.inputs_of_order(number)
    if inputs is None:
        raise GiveUp(Exit.BAD_INPUT, f"{journal}: knows no order {printable(number)}")
    try:
        return Order.model_validate(inputs.order).unit_serials()
    except ValidationError:
        words = f"{journal}: order {printable(number)} was recorded by another version; allowed: SERIAL..."
        raise GiveUp(Exit.BAD_INPUT, words) from None


@dataclass(frozen=True, slots=True)
class Made:
    """A paper that was made of a unit, or of an order where `serial` is empty: its file, and where it went."""

    order: str
    serial: str
    content: bytes
    where: str


def enter(journal: Path, what: str, made: Iterable[Made]) -> None:
    """Note in the record that papers were made; says so where that cannot be, since the papers are there."""
    events = [
        (one.order, one.serial, DocumentMade(what, sha256(one.content).hexdigest(), "", one.where))
        for one in made
    ]
    if not events:
        return
    try:
        note(journal, "papers", events)
    except JournalError as failure:
        narrate(f"note: that these papers were made is not in the record: {printable(str(failure))}")
