"""Earlier self-checks of a rig, out of the record: how the last one came out, and what all of them measured.

The run of a self-check bears the name of its rig, so that it is found among the runs, which are few.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rig.events import PartMeasured, SelfCheckEnded, SelfCheckStarted, Stamped
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.moments import run_named
from rig.selfcheck.checks import Outcome
from rig.selfcheck.gate import LastCheck
from rig.store.database import Database, SqliteDatabase

_RUNS = "SELECT id, bench, first FROM run WHERE name LIKE :name ESCAPE '!' ORDER BY bench DESC, first DESC LIMIT :most"
_OF_RUN = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE bench = :bench AND number >= :first AND number < :last "
    "AND run = :run AND kind IN (:started, :measured, :ended) ORDER BY number"
)
# A self-check has some hundreds of entries; other runs may have written between them.
_LONGEST = 5000
_MOST_RUNS = 200


def run_name(rig: str) -> str:
    """The name of a new run of a self-check."""
    return run_named(f"self-check-{rig}")


@dataclass(frozen=True, slots=True)
class History:
    """The earlier self-checks of one rig."""

    last: LastCheck | None
    figures: Mapping[tuple[str, str], Sequence[float]]


def history_of(path: Path, rig: str) -> History:
    """Read the earlier self-checks of a rig, the newest first; raises JournalError."""
    if not path.is_file():
        return History(None, {})
    with reading(path) as database:
        runs = list(_runs(SqliteDatabase(database), rig))
    figures: dict[tuple[str, str], list[float]] = {}
    for events in runs:
        for one in _measured_well(events):
            figures.setdefault((one.part, one.figure), []).append(one.value)
    return History(_last(runs[0]) if runs else None, figures)


def last_check(path: Path, rig: str) -> LastCheck | None:
    """How the last self-check of a rig came out; None if there was none. Raises JournalError."""
    if not path.is_file():
        return None
    with reading(path) as database:
        newest = next(_runs(SqliteDatabase(database), rig), None)
    return None if newest is None else _last(newest)


def _runs(database: Database, rig: str) -> Iterator[list[Stamped]]:
    values: dict[str, Any] = {"name": f"%-self-check-{rig}", "most": _MOST_RUNS}
    for run, bench, first in list(database.rows(_RUNS, values)):
        kinds = {
            "started": SelfCheckStarted.kind,
            "measured": PartMeasured.kind,
            "ended": SelfCheckEnded.kind,
        }
        span = {"run": run, "bench": bench, "first": first, "last": first + _LONGEST}
        events = [stamped_from(*row) for row in database.rows(_OF_RUN, {**span, **kinds})]
        if events and isinstance(events[0].event, SelfCheckStarted) and events[0].event.rig == rig:
            yield events


def _last(events: Sequence[Stamped]) -> LastCheck:
    begun = events[0].event
    assert isinstance(begun, SelfCheckStarted), "only such runs are read"
    ended = next((one.event for one in events if isinstance(one.event, SelfCheckEnded)), None)
    outcome = Outcome.NOT_DONE if ended is None else Outcome(ended.outcome)
    return LastCheck(events[0].utc, outcome, begun.rig_sha256)


def _measured_well(events: Iterable[Stamped]) -> Iterator[PartMeasured]:
    for one in events:
        event = one.event
        if isinstance(event, PartMeasured) and (event.high is None or event.value <= event.high):
            yield event
