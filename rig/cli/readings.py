"""`teachrig readings`: every reading of the units that were asked for, as a file for analysis elsewhere."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterable
from pathlib import Path

from rig.cli.asking import asked_store
from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.layout import Page
from rig.cli.listing import Row, print_columns
from rig.cli.writing import there_already, write_lines
from rig.csvtext import csv_lines
from rig.finding.columns import READINGS
from rig.finding.parquet import NoParquet, write_parquet
from rig.finding.readings import readings
from wiring.plainwords import printable

_KINDS = (".parquet", ".csv")


def command(options: Namespace) -> int:
    """Write them."""
    if options.columns:
        with reader_may_leave():
            print_columns(READINGS, Page())
        return Exit.DONE
    path = _path(options)
    with asked_store(options) as (connection, wanted):
        rows = readings(connection, wanted)
        if path.suffix == ".csv":
            names = [column.name for column in READINGS]
            lines = csv_lines(names, ([row[name] for name in names] for row in rows))
            count = write_lines(path, lines, force=options.force) - 1
        else:
            count = _write_parquet(path, rows)
    narrate(f"{count} readings: {printable(str(path))}")
    return Exit.DONE


def _path(options: Namespace) -> Path:
    path: Path | None = options.out
    if path is None or path.suffix not in _KINDS:
        given = "nothing" if path is None else printable(str(path))
        raise GiveUp(
            Exit.BAD_INPUT, f"--out: given {given}; allowed: a file that ends in {' or '.join(_KINDS)}"
        )
    if os.path.lexists(path) and not options.force:
        raise there_already(path)
    return path


def _write_parquet(path: Path, rows: Iterable[Row]) -> int:
    try:
        return write_parquet(path, READINGS, rows)
    except NoParquet:
        words = "Parquet needs a library that a bench does without; allowed: pip install 'teachrig[analysis]', or .csv"
        raise GiveUp(Exit.BAD_INPUT, words) from None
    except OSError as error:
        words = f"{printable(str(path))} cannot be written: {error.strerror or error}"
        raise GiveUp(Exit.BAD_INPUT, words) from None
