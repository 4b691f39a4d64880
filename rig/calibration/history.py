"""The calibration that is in force on a rig, out of the record; its run bears the name of the rig."""

from __future__ import annotations

from pathlib import Path

from rig.calibration.calibration import Calibration
from rig.events import CalibrationMade
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.moments import run_named
from rig.store.database import Database, SqliteDatabase

_RUNS = (
    "SELECT id, bench, first FROM run WHERE name LIKE :name ESCAPE '!' AND first < :before "
    "ORDER BY bench DESC, first DESC LIMIT 50"
)
_MADE = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE bench = :bench AND number >= :first AND number < :last "
    "AND run = :run AND kind = :kind ORDER BY number DESC LIMIT 1"
)
_LONGEST = 5000
_END = 2**62


def run_name(rig: str) -> str:
    """The name of a new run of a calibration."""
    return run_named(f"calibrate-{rig}")


def calibration_of(path: Path, rig: str, nest: str) -> Calibration | None:
    """The last calibration of a nest of a rig; None if it never was. Raises JournalError."""
    if not path.is_file():
        return None
    with reading(path) as database:
        return calibration_before(SqliteDatabase(database), rig, nest)


def calibration_before(
    database: Database, rig: str, nest: str, entry: int = _END, of_bench: int | None = None
) -> Calibration | None:
    """The last calibration of a nest before an entry of the account, of one bench where that is given."""
    for run, bench, first in list(database.rows(_RUNS, {"name": f"%-calibrate-{rig}", "before": entry})):
        if of_bench not in (None, bench):
            continue
        span = {"run": run, "bench": bench, "first": first, "last": min(first + _LONGEST, entry)}
        for row in database.rows(_MADE, {**span, "kind": CalibrationMade.kind}):
            event = stamped_from(*row).event
            if isinstance(event, CalibrationMade) and (event.rig, event.nest) == (rig, nest):
                return Calibration.from_content(event.calibration)
    return None
