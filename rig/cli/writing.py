"""Writes a file that a person asked for, without ever losing one that was there."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rig.cli.exits import Exit, GiveUp
from rig.store.errors import JournalError
from wiring.plainwords import printable

STANDARD_OUTPUT = "-"


def write_file(path: Path, content: bytes, *, force: bool) -> None:
    """Write a file; gives up if it is there already and `force` is not given, or if it cannot be written."""
    with _told_if_it_fails(path), path.open("wb" if force else "xb") as file:
        file.write(content)


def write_lines(path: Path, lines: Iterable[str], *, force: bool) -> int:
    """Write a text file line by line and return how many there were; gives up as `write_file`."""
    count = 0
    mode = "w" if force else "x"
    with _told_if_it_fails(path), path.open(mode, encoding="utf-8", newline="") as file:
        for line in lines:
            file.write(line)
            count += 1
    return count


def there_already(path: Path) -> GiveUp:
    """What a command gives up with where a file is in the way."""
    words = f"{printable(str(path))} is there already; allowed: another name, or --force to replace it"
    return GiveUp(Exit.BAD_INPUT, words)


@contextmanager
def _told_if_it_fails(path: Path) -> Iterator[None]:
    try:
        yield
    except JournalError:
        # An error of what is being read for the file, not of the file.
        raise
    except FileExistsError:
        raise there_already(path) from None
    except OSError as error:
        raise GiveUp(Exit.BAD_INPUT, f"{printable(str(path))} cannot be written: {error.strerror}") from None


def must_be_free(path: Path) -> None:
    """Give up, before anything is done, unless a new TOML file can be written there."""
    file = printable(str(path))
    if path.suffix != ".toml":
        raise GiveUp(
            Exit.BAD_INPUT, f"{file}: is no name for the file; allowed: a path that ends in .toml, or -"
        )
    if os.path.lexists(path):
        raise GiveUp(Exit.BAD_INPUT, f"{file}: is there already; allowed: the path of a new file")
    if not path.parent.is_dir():
        raise GiveUp(
            Exit.BAD_INPUT, f"{file}: there is no such folder; allowed: a path in an existing folder"
        )


def write_new(path: Path, text: str) -> None:
    """Write a new file whole or not at all; what was answered is not lost if it cannot be."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(path, "x", encoding="utf-8") as file:
            try:
                file.write(text)
                file.flush()
            except OSError:
                path.unlink()
                raise
    except OSError as error:
        print(text, end="")
        reason = f"{printable(str(path))}: cannot be written: {error.strerror}"
        raise GiveUp(Exit.BAD_INPUT, f"{reason}; the file is printed to standard output instead") from None
