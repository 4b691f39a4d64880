"""`teachrig backup`: a proven copy of the record, while benches work."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from rig.store.copying import NotProven, back_up
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Write the copy; 1 if the record does not hold, 2 if it cannot be read or the file not be written."""
    try:
        found = back_up(data_folder(options.data) / JOURNAL_NAME, options.file)
    except FileExistsError:
        words = f"{printable(str(options.file))} is there already; allowed: the name of a new file"
        raise GiveUp(Exit.BAD_INPUT, words) from None
    except NotProven as broken:
        raise GiveUp(Exit.NOT_ALL_GOOD, f"{broken}; see teachrig audit") from None
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    except OSError as failure:
        words = f"{printable(str(options.file))} cannot be written: {failure.strerror}"
        raise GiveUp(Exit.BAD_INPUT, words) from None
    if options.json:
        print_json({"file": str(options.file), **asdict(found)})
    else:
        entries = sum(account.entries for account in found.accounts)
        narrate(f"copied and proven: {printable(str(options.file))}, {entries} entries")
    return Exit.DONE
