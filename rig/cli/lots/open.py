"""`teachrig lot open`: enters a lot, draws its sample, and says how strictly it is inspected and why."""

from __future__ import annotations

import secrets
from argparse import Namespace

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.lots.common import (
    asked_lots,
    enter,
    journal_of,
    lot_number,
    person_of,
    read_plan,
    record_of,
)
from rig.cli.lots.text import lot_as_dict, print_lot
from rig.events import LotOpened
from rig.lots.history import History
from rig.lots.sampling import sampling_of, tightens
from rig.sampling.plan import NoSuchPlan
from rig.sampling.standard import Severity
from rig.sampling.switching import Standing, standing_words
from rig.typed import typed_text
from sequences.receiving import ReceivingPlan
from wiring.plainwords import near_miss, shown

_LONGEST_WORDS = 80


def command(options: Namespace) -> int:
    """Open a lot."""
    number = lot_number(options.lot)
    supplier, delivery_note = (_line(f"--{key}", getattr(options, key)) for key in ("supplier", "note"))
    receiving, sensor_type = read_plan(options.plan or options.type)
    if receiving.sensor_type != sensor_type.name or options.type != sensor_type.name:
        raise GiveUp(
            Exit.BAD_INPUT,
            f"receiving plan {receiving.name} is for {receiving.sensor_type} (given --type {shown(options.type)}); "
            f"allowed: --type {receiving.sensor_type}, or another --plan",
        )
    journal, mended = journal_of(options), options.mended
    before = _before(options, number, supplier, sensor_type.name)
    severity = _severity(receiving, before.standing, mended)
    try:
        sampling_of(receiving, options.quantity, severity)
    except NoSuchPlan as none:
        raise GiveUp(Exit.BAD_INPUT, f"receiving plan {receiving.name}: {none}") from None
    opened = LotOpened(
        lot=number,
        supplier=supplier,
        delivery_note=delivery_note,
        sensor_type=sensor_type.name,
        quantity=options.quantity,
        seed=secrets.randbelow(2**31) if options.seed is None else options.seed,
        inspection=str(severity),
        plan=receiving.model_dump(mode="json"),
        resubmits=options.resubmits or "",
        mended="" if mended is None else _line("--mended", mended),
        person=person_of(options),
    )
    enter(journal, number, opened)
    record = record_of(journal, number)
    with reader_may_leave():
        if options.json:
            print_json(lot_as_dict(record))
        else:
            print_lot(record, before)
            narrate(f"next: teachrig lot run {number}")
    return Exit.DONE


def _before(options: Namespace, number: str, supplier: str, sensor_type: str) -> History:
    """The history so far; gives up on a number that is taken, and on a lot that cannot come again."""
    resubmits: str | None = options.resubmits
    if not (options.shop or journal_of(options).is_file()):
        if resubmits:
            raise GiveUp(Exit.BAD_INPUT, f"--resubmits: knows no lot {shown(resubmits)}")
        return History((), Standing())
    with asked_lots(options) as lots:
        if lots.knows(number):
            words = f"lot {number} is there already; allowed: another number, or teachrig lot show {number}"
            raise GiveUp(Exit.BAD_INPUT, words)
        if lots.is_order(number):
            raise GiveUp(Exit.BAD_INPUT, f"{number} is the number of an order; allowed: another number")
        history = lots.history(supplier, sensor_type)
        known = sorted({name for name, _ in lots.suppliers()})
    if supplier not in known:
        narrate(f"note: first lot of {supplier}{near_miss(supplier, known)}")
    if resubmits is not None:
        _may_come_again(history, resubmits)
    return history


def _may_come_again(history: History, resubmits: str) -> None:
    sent = {one.opened.lot: one for one in history.closed}
    decided = sent[resubmits].closed if resubmits in sent else None
    if decided is None or decided.decision != "rejected":
        allowed = ", ".join(
            lot for lot, one in sent.items() if one.closed and one.closed.decision == "rejected"
        )
        raise GiveUp(
            Exit.BAD_INPUT,
            f"--resubmits is no lot of this supplier and type that was rejected (given {shown(resubmits)}); allowed: "
            f"{allowed or 'there is none'}",
        )


def _severity(receiving: ReceivingPlan, standing: Standing, mended: str | None) -> Severity:
    if not tightens(receiving):
        return Severity.NORMAL
    if standing.stopped and mended is None:
        raise GiveUp(
            Exit.NOT_ALL_GOOD,
            f"no lot is opened: {standing_words(standing)}. Allowed: --mended WORDS, once the supplier has shown what "
            "was mended",
        )
    if mended is not None and not standing.stopped:
        raise GiveUp(
            Exit.BAD_INPUT,
            "--mended: inspection of this supplier and type is not stopped; allowed: leave it out",
        )
    return Severity.TIGHTENED if standing.stopped else standing.severity


def _line(option: str, text: str) -> str:
    line = typed_text(text)
    if not line or len(line) > _LONGEST_WORDS:
        raise GiveUp(Exit.BAD_INPUT, f"{option}: given {shown(text)}; allowed: 1 to {_LONGEST_WORDS} letters")
    return line
