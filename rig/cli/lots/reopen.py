"""`teachrig lot reopen`: takes the decision on a lot back; everything that was found stays."""

from __future__ import annotations

from argparse import Namespace

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.lots.common import enter, journal_of, person_of, record_of
from rig.events import LotReopened


def command(options: Namespace) -> int:
    """Reopen a lot that was closed."""
    journal = journal_of(options)
    record = record_of(journal, options.lot)
    if record.lot.closed is None:
        raise GiveUp(Exit.BAD_INPUT, f"lot {options.lot} is open; allowed: teachrig lot run {options.lot}")
    enter(journal, options.lot, LotReopened(options.lot, person_of(options), options.why))
    print(f"lot {options.lot} is open; it was {record.lot.closed.decision}, and that stays in the record")
    narrate(f"next: teachrig lot run {options.lot}, or teachrig lot close {options.lot}")
    return Exit.DONE
