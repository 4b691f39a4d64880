"""What the journal holds of one unit: which attempts there were, each of them whole, and which serials it knows."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from rig.events import Event, OrderInputs, OrderStarted, Stamped, UnitJudged, UnitStarted, Verdict
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.recount.attempt import Attempt

# The last row there can be.
_END = 2**63 - 1

BEGINS_AND_VERDICTS = (
    f"SELECT id, run, utc, order_number, kind, body FROM entry WHERE serial = ? "
    f"AND kind IN ('{UnitStarted.kind}', '{UnitJudged.kind}') ORDER BY id"
)
OF_UNIT = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE serial = ? AND id >= ? AND id < ? AND run = ? ORDER BY id"
)
# By run, from its begin on, where both stand; not by serial, which all orders share here.
OPENING = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE run = ? AND +serial = '' "
    f"AND kind IN ('{OrderStarted.kind}', '{OrderInputs.kind}') ORDER BY number LIMIT 2"
)
LAST_INPUTS = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE serial = '' AND order_number = ? AND kind = '{OrderInputs.kind}' "
    "ORDER BY id DESC LIMIT 1"
)
RUNS_OF_ORDER = f"SELECT run FROM entry WHERE serial = '' AND order_number = ? AND kind = '{OrderStarted.kind}' ORDER BY id"
OF_RUN = f"SELECT {STAMPED_COLUMNS} FROM entry WHERE run = ? AND +serial <> '' AND kind IN ({{kinds}}) ORDER BY number"
# From each serial straight to the next, without looking at their entries.
SERIALS = (
    "WITH RECURSIVE known (serial) AS (SELECT min(serial) FROM entry UNION ALL "
    "SELECT (SELECT min(serial) FROM entry WHERE serial > known.serial) FROM known WHERE known.serial IS NOT NULL) "
    "SELECT serial FROM known WHERE serial <> ''"
)


@dataclass(frozen=True, slots=True)
class Listed:
    """One attempt at a unit, as a list shows it; `verdict` None if it never got one."""

    serial: str
    order: str
    began_utc: str
    verdict: Verdict | None
    reason: str
    run: str
    first_row: int
    end_row: int


class Records:
    """An open journal; made by `open_records`. Every method raises JournalError for a damaged one."""

    def __init__(self, database: sqlite3.Connection) -> None:
        self._database = database

    def attempts(self, serial: str) -> tuple[Listed, ...]:
        """Every attempt at a unit, the first one first."""
        found: list[Listed] = []
        open_in: dict[str, int] = {}
        for row, run, utc, order, kind, body in self._database.execute(BEGINS_AND_VERDICTS, (serial,)):
            index = open_in.get(run)
            if kind == UnitStarted.kind:
                if index is not None:
                    found[index] = replace(found[index], end_row=row)
                open_in[run] = len(found)
                found.append(Listed(serial, order, utc, None, "", run, row, _END))
            elif index is not None:
                judged = json.loads(body)
                verdict, reason = Verdict(judged["verdict"]), judged["reason"]
                found[index] = replace(found[index], verdict=verdict, reason=reason)
        return tuple(found)

    def attempt(self, listed: Listed) -> Attempt:
        """All that is recorded of one attempt, and of the order that it was for."""
        span = (listed.serial, listed.first_row, listed.end_row, listed.run)
        events = tuple(stamped_from(*row) for row in self._database.execute(OF_UNIT, span))
        return Attempt(listed.run, *self._opening(listed.run), events)

    def of_order(self, number: str, *kinds: type[Event]) -> Iterator[Attempt]:
        """Every attempt at a unit for an order, in the order of work, with its begin and its events of these kinds.

        Attempts of one run share what began with the order. For a report on many units, which needs few events.
        """
        wanted = sorted({UnitStarted.kind, *(kind.kind for kind in kinds)})
        question = OF_RUN.format(kinds=", ".join("?" * len(wanted)))
        for (run,) in self._database.execute(RUNS_OF_ORDER, (number,)).fetchall():
            opening = self._opening(run)
            rows = self._database.execute(question, (run, *wanted))
            for events in _by_unit(stamped_from(*row) for row in rows):
                yield Attempt(run, *opening, events)

    def _opening(self, run: str) -> tuple[OrderStarted | None, OrderInputs | None]:
        opening = [stamped_from(*row).event for row in self._database.execute(OPENING, (run,))]
        started = next((one for one in opening if isinstance(one, OrderStarted)), None)
        inputs = next((one for one in opening if isinstance(one, OrderInputs)), None)
        return started, inputs

    def inputs_of_order(self, number: str) -> OrderInputs | None:
        """What an order was last begun with; None if the journal does not know it."""
        row = self._database.execute(LAST_INPUTS, (number,)).fetchone()
        event = None if row is None else stamped_from(*row).event
        return event if isinstance(event, OrderInputs) else None

    def serials(self) -> list[str]:
        """Every serial that the journal knows, in alphabetical order."""
        return [serial for (serial,) in self._database.execute(SERIALS)]


def _by_unit(stamped: Iterator[Stamped]) -> Iterator[tuple[Stamped, ...]]:
    """The events of one run, apart for each time that a unit was put into a nest."""
    events: list[Stamped] = []
    for one in stamped:
        if isinstance(one.event, UnitStarted) and events:
            yield tuple(events)
            events = []
        if events or isinstance(one.event, UnitStarted):
            events.append(one)
    if events:
        yield tuple(events)


@contextmanager
def open_records(path: Path) -> Iterator[Records]:
    """Open a journal for reading; raises JournalError when it is missing, damaged or of another version."""
    with reading(path) as database:
        yield Records(database)
