"""Writes a file that a person asked for, without ever losing one that was there."""

from __future__ import annotations

from pathlib import Path

from rig.cli.exits import Exit, GiveUp
from wiring.plainwords import printable


def write_file(path: Path, content: bytes, *, force: bool) -> None:
    """Write a file; gives up if it is there already and `force` is not given, or if it cannot be written."""
    try:
        with path.open("wb" if force else "xb") as file:
            file.write(content)
    except FileExistsError:
        words = f"{printable(str(path))} is there already; allowed: another name, or --force to replace it"
        raise GiveUp(Exit.BAD_INPUT, words) from None
    except OSError as error:
        raise GiveUp(Exit.BAD_INPUT, f"{printable(str(path))} cannot be written: {error.strerror}") from None
