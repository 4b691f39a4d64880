"""A lot on the terminal, and for a program."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rig.cli.layout import Page
from rig.events import Verdict
from rig.lots.decision import ClassCount, Standing
from rig.lots.draw import place_of
from rig.lots.history import History
from rig.lots.lot import Lot
from rig.lots.record import LotRecord
from rig.lots.report import (
    STATES,
    class_words,
    most_accepted,
    state_of,
    unit_rows,
    what_it_proves,
    what_it_proves_not,
)
from rig.lots.sampling import tightens
from rig.sampling.switching import standing_words

_IN_A_ROW = 12


def print_lot(record: LotRecord, before: History | None = None) -> None:
    """A lot: what it is, what is drawn, how it stands."""
    page, lot, standing = Page(), record.lot, record.standing
    page.heading(f"lot {lot.number} from {lot.opened.supplier}: {state_of(record)}")
    page.pairs(list(_facts(record, before)))
    page.heading("sample")
    page.table(
        ("class", ">units", ">accepted with", "from"),
        [
            (
                str(one.asked.defect),
                str(one.asked.plan.sample_size),
                one.asked.accepted_with(one.tested),
                one.asked.how,
            )
            for one in standing.classes
        ],
    )
    if lot.closed is None:
        _print_draw(page, standing)
    _print_found(page, record)


def _facts(record: LotRecord, before: History | None) -> Iterator[tuple[str, str]]:
    lot = record.lot
    yield "delivery note", lot.opened.delivery_note
    yield "sensor type", lot.opened.sensor_type
    yield "units", str(lot.quantity)
    yield "receiving plan", f"{lot.receiving.name}: {lot.receiving.title}"
    yield "inspection", _inspection(lot, before)
    yield "drawn by", f"seed {lot.opened.seed}: places in the order of the SHA-256 of seed/place"
    if lot.opened.resubmits:
        yield "comes again", f"after lot {lot.opened.resubmits} was rejected; it does not count for switching"
    for one in lot.changes:
        by = f" by {one.person}" if one.person else ""
        yield "changed", f"{one.utc[:16].replace('T', ' ')}{by}: {one.words}"


def _inspection(lot: Lot, before: History | None) -> str:
    if not tightens(lot.receiving):
        return "the plan's own; earlier lots do not change it"
    return str(lot.severity) if before is None else standing_words(before.standing)


def _print_draw(page: Page, standing: Standing) -> None:
    left = [place_of(serial) for serial in standing.left]
    if left:
        page.heading(f"places of the box still to be tested, in this order ({len(left)})")
        for first in range(0, len(left), _IN_A_ROW):
            page.lines(["  " + " ".join(f"{place:>5}" for place in left[first : first + _IN_A_ROW])])


def _print_found(page: Page, record: LotRecord) -> None:
    standing = record.standing
    if record.found:
        page.heading("units that are not sound, or not decided")
        rows = list(unit_rows(record))
        page.table(("place", "verdict", "defect", "settled by", "put aside", "found"), rows)
        if not rows:
            page.say("none")
    page.heading("how it stands")
    page.table(
        ("class", ">tested", ">found", ">accepted with", ">undecided", ">left", "so far"),
        [_class_row(one) for one in standing.classes],
    )
    for one in standing.alone:
        page.say(f"{one.characteristic}: {one.found} found, {one.most} accepted of it alone")


def _class_row(one: ClassCount) -> tuple[str, ...]:
    accepted = one.asked.accepted_with(one.tested)
    figures = (one.tested, one.found, accepted, one.undecided, one.left)
    return (str(one.asked.defect), *map(str, figures), class_words(one))


def print_decision(record: LotRecord, history: History) -> None:
    """How a lot was decided, what that proves and what not, and what the next one meets."""
    closed = record.lot.closed
    assert closed is not None, "it was decided"
    page = Page()
    page.heading(f"lot {closed.lot} is {closed.decision}: {closed.words}")
    for title, told in (("proves", what_it_proves(record)), ("does not prove", what_it_proves_not(record))):
        page.heading(f"what this {title}")
        for words in told:
            page.item(words)
    if tightens(record.lot.receiving):
        page.heading(f"next lot of {record.lot.opened.sensor_type} from {record.lot.opened.supplier}")
        page.say(standing_words(history.standing))


def lot_as_dict(record: LotRecord) -> dict[str, Any]:
    """The same for a program."""
    lot, standing = record.lot, record.standing
    return {
        "lot": lot.number,
        "supplier": lot.opened.supplier,
        "delivery_note": lot.opened.delivery_note,
        "sensor_type": lot.opened.sensor_type,
        "quantity": lot.quantity,
        "plan": lot.receiving.name,
        "inspection": str(lot.severity),
        "seed": lot.opened.seed,
        "state": STATES[standing.decision] if lot.closed is None else lot.closed.decision,
        "places": [place_of(serial) for serial in lot.serials()],
        "left": [place_of(serial) for serial in standing.left],
        "undecided": [place_of(serial) for serial in standing.undecided],
        "classes": [
            {
                "class": str(one.asked.defect),
                "sample": one.asked.plan.sample_size,
                "accepted_with": most_accepted(one),
                "tested": one.tested,
                "found": one.found,
            }
            for one in standing.classes
        ],
        "units": [
            {
                "place": place_of(serial),
                "serial": serial,
                "mark": lot.marks.get(serial),
                "verdict": str(unit.verdict),
                "defects": {str(one): str(defect) for one, defect in unit.defects.items()},
                "settled_by": str(unit.settled),
                "put_aside": serial in lot.aside,
                "words": unit.last.words,
            }
            for serial, unit in record.found.items()
        ],
        "good": sum(one.verdict is Verdict.GOOD for one in record.found.values()),
    }
