"""What is done of a rig's building, out of the record; each sitting is a run that bears the name of the rig."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from rig.events import RigSignedOff, RigStepDone, Stamped
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.moments import run_named
from rig.store.database import Database, SqliteDatabase

_RUNS = "SELECT id, bench, first FROM run WHERE name LIKE :name ORDER BY bench, first"
_OF_RUN = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE bench = :bench AND number >= :first AND number < :last "
    "AND run = :run AND kind IN (:step, :signed) ORDER BY number"
)
_LONGEST = 5000


def run_name(rig: str) -> str:
    """The name of a new sitting."""
    return run_named(f"commission-{rig}")


@dataclass(frozen=True, slots=True)
class Built:
    """One building of a rig: its steps in the order in which they were done, and the signatures; None while open."""

    steps: tuple[Stamped, ...]
    signed: Stamped | None

    @property
    def done(self) -> frozenset[tuple[str, str]]:
        """Key and words of every step that is done."""
        return frozenset(
            (one.event.step, one.event.words) for one in self.steps if isinstance(one.event, RigStepDone)
        )


def buildings_of(path: Path, rig: str) -> tuple[Built, ...]:
    """Every building of a rig, the oldest first; the last one may be open. Raises JournalError."""
    if not path.is_file():
        return ()
    built: list[Built] = []
    with reading(path) as database:
        steps: list[Stamped] = []
        for stamped in _events(SqliteDatabase(database), rig):
            if isinstance(stamped.event, RigSignedOff):
                built.append(Built(tuple(steps), stamped))
                steps = []
            else:
                steps.append(stamped)
        if steps:
            built.append(Built(tuple(steps), None))
    return tuple(built)


def _events(database: Database, rig: str) -> Iterator[Stamped]:
    for run, bench, first in list(database.rows(_RUNS, {"name": f"%-commission-{rig}"})):
        span = {"run": run, "bench": bench, "first": first, "last": first + _LONGEST}
        for row in database.rows(_OF_RUN, {**span, "step": RigStepDone.kind, "signed": RigSignedOff.kind}):
            stamped = stamped_from(*row)
            if isinstance(stamped.event, RigStepDone | RigSignedOff) and stamped.event.rig == rig:
                yield stamped
