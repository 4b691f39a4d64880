"""What is said of a serial that the record does not know."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import NoReturn

from rig.cli.exits import Exit, GiveUp
from rig.records import Records
from wiring.plainwords import printable

_MOST_NEAR = 5


def no_such_unit(records: Records, serial: str, path: Path | str) -> NoReturn:
    """Give up on a serial, with those that may have been meant."""
    words = f"no unit {printable(serial, 60)}"
    named = records.bearing(serial)
    if named:
        raise GiveUp(
            Exit.BAD_INPUT, f"{words}: it is the own serial of {', '.join(named)}; allowed: that one"
        )
    known = records.serials()
    if not known:
        raise GiveUp(Exit.BAD_INPUT, f"{words}: the record {path} holds none yet")
    raise GiveUp(Exit.BAD_INPUT, f"{words} in the record {path}{_near(serial, known)}")


def _near(given: str, known: Sequence[str]) -> str:
    """Serials that may have been meant: written in other letters, given in part, or mistyped."""
    folded = given.casefold()
    meant = [one for one in known if one.casefold() == folded]
    meant = meant or [one for one in known if folded and folded in one.casefold()][:_MOST_NEAR]
    meant = meant or get_close_matches(given[:60], known, n=_MOST_NEAR)
    if meant:
        return f", did you mean {', '.join(meant)}?"
    return f"; it holds {len(known)} units, from {known[0]} to {known[-1]}"
