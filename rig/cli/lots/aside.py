"""`teachrig lot aside`: says that units have been put aside, where that was not said at the bench."""

from __future__ import annotations

from argparse import Namespace

from rig.cli.exits import Exit, GiveUp
from rig.cli.lots.common import enter, journal_of, open_record_of, person_of
from rig.events import UnitPutAside, Verdict
from rig.lots.draw import unit_serial


def command(options: Namespace) -> int:
    """Enter it, for all units or for none."""
    journal = journal_of(options)
    record, person = open_record_of(journal, options.lot), person_of(options)
    serials = [unit_serial(options.lot, place) for place in options.places]
    for place, serial in zip(options.places, serials, strict=True):
        unit = record.found.get(serial)
        if unit is None or unit.verdict is Verdict.GOOD:
            what = "was not tested" if unit is None else "is sound"
            raise GiveUp(
                Exit.BAD_INPUT, f"the unit of place {place} {what}; allowed: units that are not sound"
            )
    for serial in serials:
        enter(journal, options.lot, UnitPutAside(record.found[serial].verdict, person), serial=serial)
    print(f"{len(serials)} put aside")
    return Exit.DONE
