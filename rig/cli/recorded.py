"""The units of the record that a command was asked for: by their serials, or all of an order."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pydantic import ValidationError

from rig.cli.exits import Exit, GiveUp
from rig.journal import JournalError
from rig.records import Records, open_records
from sequences.order import Order
from wiring.plainwords import near_miss, printable


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
            near = near_miss(serial, records.serials())
            words = f"{journal}: knows no unit {printable(serial)}{near}; allowed: serials as recorded"
            raise GiveUp(Exit.BAD_INPUT, words)
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
