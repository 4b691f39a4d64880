"""`teachrig correct`: say of an entry of the record what is wrong with it; the entry itself stays."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.events import Corrected
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from rig.store.correcting import NotCorrected, correct
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Record the correction; 2 if it cannot be one, 3 if the record cannot be kept."""
    corrected = Corrected(options.entry, options.field, options.right, options.person, options.why)
    store = data_folder(options.data) / JOURNAL_NAME
    try:
        stamped = correct(store, corrected)
    except NotCorrected as refused:
        raise GiveUp(Exit.BAD_INPUT, str(refused)) from None
    except JournalError as failure:
        raise GiveUp(Exit.BENCH_FAULT if store.is_file() else Exit.BAD_INPUT, str(failure)) from None
    if options.json:
        of_entry = {"serial": stamped.serial, "order": stamped.order, "utc": stamped.utc}
        print_json(of_entry | asdict(corrected))
    else:
        of = f" of unit {printable(stamped.serial)}" if stamped.serial else ""
        narrate(f"noted: entry {corrected.corrects}{of} is corrected by {printable(corrected.person)}")
    return Exit.DONE
