"""`teachrig restore`: put a copy of the record back, after proof, and move the old one aside."""

from __future__ import annotations

from argparse import Namespace

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from rig.store.copying import Held, NotProven, restore
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Put the copy back; 1 if it does not hold, 2 if it cannot be read, 3 while a bench works."""
    store = data_folder(options.data) / JOURNAL_NAME
    try:
        aside = restore(store, options.file)
    except NotProven as broken:
        raise GiveUp(Exit.NOT_ALL_GOOD, str(broken)) from None
    except Held as held:
        raise GiveUp(Exit.BENCH_FAULT, str(held)) from None
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    except OSError as failure:
        raise GiveUp(Exit.BENCH_FAULT, f"{store} cannot be put in place: {failure.strerror}") from None
    if options.json:
        print_json({"record": str(store), "aside": None if aside is None else str(aside)})
    else:
        narrate(f"put back: {store}")
        if aside is not None:
            narrate(f"the record that was there is kept as {printable(str(aside))}")
    return Exit.DONE
