"""`teachrig restore`: put a copy of the record back, after proof; the record that is there is never lost."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from rig.store.copying import NotProven, Restored, restore
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Put the copy back; 1 if it does not hold, 2 if it cannot be read, or not be one with what a bench works with."""
    store = data_folder(options.data) / JOURNAL_NAME
    try:
        done = restore(store, options.file)
    except NotProven as broken:
        raise GiveUp(Exit.NOT_ALL_GOOD, str(broken)) from None
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    except OSError as failure:
        raise GiveUp(Exit.BENCH_FAULT, f"{store} cannot be put in place: {failure.strerror}") from None
    if options.json:
        aside = None if done.aside is None else str(done.aside)
        print_json({"record": str(store), "aside": aside, "added": done.added})
    else:
        _tell(store, done)
    return Exit.DONE


def _tell(store: Path, done: Restored) -> None:
    if done.added is not None:
        what = (
            f"{done.added} entries of the copy added"
            if done.added
            else "all that the copy holds was there already"
        )
        narrate(f"a bench works with {store}; {what}, and its own record stays as it is")
        return
    narrate(f"put back: {store}")
    if done.aside is not None:
        aside = printable(str(done.aside))
        narrate(f"the record that was there is kept as {aside}")
        narrate(f"what it held beyond the copy is in that file alone: teachrig restore {aside} puts it back")
