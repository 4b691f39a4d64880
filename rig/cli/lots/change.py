"""`teachrig lot change`: other units in the box than were entered, or another plan; what was tested stays."""

from __future__ import annotations

from argparse import Namespace

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.json_text import print_json
from rig.cli.lots.common import enter, journal_of, open_record_of, person_of, read_plan, record_of
from rig.cli.lots.text import lot_as_dict, print_lot
from rig.events import LotChanged
from rig.lots.draw import place_of
from rig.lots.record import LotRecord
from rig.lots.sampling import sampling_of
from rig.sampling.plan import NoSuchPlan
from sequences.receiving import ReceivingPlan


def command(options: Namespace) -> int:
    """Change an open lot."""
    journal = journal_of(options)
    before = open_record_of(journal, options.lot)
    receiving = _receiving(options, before)
    quantity = options.quantity or before.lot.quantity
    if (receiving, quantity) == (before.lot.receiving, before.lot.quantity):
        raise GiveUp(
            Exit.BAD_INPUT, "nothing would change; allowed: --quantity N, or --plan PLAN, other than now"
        )
    if quantity < (tested := len(before.found)):
        words = f"{tested} units of lot {options.lot} were tested already (given --quantity {quantity})"
        raise GiveUp(Exit.BAD_INPUT, f"{words}; allowed: {tested} or more")
    try:
        sampling_of(receiving, quantity, before.lot.severity)
    except NoSuchPlan as none:
        raise GiveUp(Exit.BAD_INPUT, f"receiving plan {receiving.name}: {none}") from None
    changed = LotChanged(
        options.lot, quantity, receiving.model_dump(mode="json"), person_of(options), options.why
    )
    enter(journal, options.lot, changed)
    after = record_of(journal, options.lot)
    with reader_may_leave():
        if options.json:
            print_json(lot_as_dict(after))
        else:
            print_lot(after)
    _tell_of_those_outside(after)
    return Exit.DONE


def _receiving(options: Namespace, before: LotRecord) -> ReceivingPlan:
    if options.plan is None:
        return before.lot.receiving
    receiving, sensor_type = read_plan(options.plan)
    if sensor_type.name != before.lot.opened.sensor_type:
        raise GiveUp(
            Exit.BAD_INPUT,
            f"receiving plan {receiving.name} is for {sensor_type.name}; allowed: one for "
            f"{before.lot.opened.sensor_type}",
        )
    missing = [str(one) for one in receiving.test.asked if before.lot.receiving.test.of(one) is None]
    if missing and before.found:
        raise GiveUp(
            Exit.BAD_INPUT,
            f"the new plan also asks for {', '.join(missing)}, which {len(before.found)} units were not tested for; "
            "allowed: a plan that asks for no more, or a new lot",
        )
    return receiving


def _tell_of_those_outside(after: LotRecord) -> None:
    """Units that were tested and are no longer drawn stay in the record, and out of the count."""
    drawn = set(after.lot.serials())
    outside = sorted(place_of(serial) for serial in after.found if serial not in drawn)
    if outside:
        places = ", ".join(map(str, outside))
        narrate(
            f"note: tested, but no longer in the sample: places {places}; they stay in the record and do not count"
        )
