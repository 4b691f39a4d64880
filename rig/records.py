"""What the record holds of one unit: which attempts there were, each of them whole, and which serials it knows."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rig.calibration.calibration import Calibration
from rig.calibration.history import calibration_before
from rig.events import (
    Event,
    OrderInputs,
    OrderStarted,
    Stamped,
    UnitJudged,
    UnitNamed,
    UnitStarted,
    Verdict,
)
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.recount.attempt import Attempt
from rig.store.database import Database, SqliteDatabase, Values, first_row

ATTEMPTS = (
    "SELECT a.serial, a.order_number, a.began_utc, a.verdict, a.reason, r.name, a.bench, a.run, a.first, a.last, "
    "a.person FROM attempt a JOIN run r ON r.id = a.run WHERE a.serial = :serial ORDER BY a.bench, a.first"
)
OF_UNIT = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE bench = :bench AND number >= :first AND number <= :last "
    "AND run = :run AND serial = :serial ORDER BY number"
)
# From its run's begin on, where both stand.
OPENING = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE bench = :bench AND number <= :last "
    "AND number >= (SELECT first FROM run WHERE id = :run) AND run = :run "
    f"AND kind IN ('{OrderStarted.kind}', '{OrderInputs.kind}') ORDER BY number LIMIT 2"
)
LAST_INPUTS = (
    f"SELECT {', '.join(f'e.{one}' for one in STAMPED_COLUMNS.split(', '))} FROM shop_order o "
    "JOIN entry e ON e.bench = o.bench AND e.number >= o.first AND e.number <= o.last AND e.run = o.run "
    f"WHERE o.number = :number AND e.kind = '{OrderInputs.kind}' ORDER BY o.run DESC, e.number DESC LIMIT 1"
)
RUNS_OF_ORDER = (
    "SELECT o.bench, o.run, o.first, o.last, r.name FROM shop_order o JOIN run r ON r.id = o.run "
    "WHERE o.number = :number ORDER BY o.run"
)
OF_RUN = (
    f"SELECT {STAMPED_COLUMNS} FROM entry WHERE bench = :bench AND number >= :first AND number <= :last "
    "AND run = :run AND serial <> '' AND kind IN ({kinds}) ORDER BY number"
)
# The first seal that closes the account behind a verdict.
SEAL = (
    "SELECT (SELECT s.sha256 FROM seal s WHERE s.bench = e.bench AND s.last >= e.number ORDER BY s.last LIMIT 1) "
    "FROM entry e WHERE e.bench = :bench AND e.number >= :first AND e.number <= :last AND e.run = :run "
    f"AND e.serial = :serial AND e.kind = '{UnitJudged.kind}' ORDER BY e.number LIMIT 1"
)
DECISION = (
    f"SELECT {', '.join(f'e.{one}' for one in STAMPED_COLUMNS.split(', '))} FROM decision d "
    "JOIN entry e ON e.bench = d.bench AND e.number = d.number "
    "WHERE d.of_bench = :bench AND d.attempt = :first AND d.stands = 1"
)
NAMED = (
    "SELECT DISTINCT e.serial, e.body FROM lot_entry l JOIN entry e ON e.bench = l.bench AND e.number = l.number "
    f"WHERE l.kind = '{UnitNamed.kind}'"
)
# From each serial straight to the next, without looking at their attempts.
SERIALS = (
    "WITH RECURSIVE known (serial) AS (SELECT min(serial) FROM attempt UNION ALL "
    "SELECT (SELECT min(serial) FROM attempt WHERE serial > known.serial) FROM known WHERE known.serial IS NOT NULL) "
    "SELECT serial FROM known WHERE serial IS NOT NULL"
)


@dataclass(frozen=True, slots=True)
class Listed:
    """One attempt at a unit, as a list shows it; `verdict` None if it never got one.

    Attributes:
        bench: whose account it stands in, as the store at hand numbers them.
        first: number of its first entry in that account.
        last: number of its last.
        person: who had signed in; empty if nobody had.

    """

    serial: str
    order: str
    began_utc: str
    verdict: Verdict | None
    reason: str
    run: str
    bench: int
    run_id: int
    first: int
    last: int
    person: str


class Records:
    """An open store; made by `open_records`. Every method raises JournalError for a damaged one."""

    def __init__(self, database: Database) -> None:
        self._database = database

    @property
    def database(self) -> Database:
        """For whoever finds entries of its own kind."""
        return self._database

    def attempts(self, serial: str) -> tuple[Listed, ...]:
        """Every attempt at a unit, the first one first."""
        return tuple(
            Listed(serial, order, began, Verdict(verdict) if verdict else None, *rest)
            for serial, order, began, verdict, *rest in self._database.rows(ATTEMPTS, {"serial": serial})
        )

    def bearing(self, mark: str) -> tuple[str, ...]:
        """Serials under which units of lots are recorded that bear this one of their own."""
        rows = self._database.rows(NAMED)
        return tuple(sorted({serial for serial, body in rows if json.loads(body)["mark"] == mark}))

    def attempt(self, listed: Listed) -> Attempt:
        """All that is recorded of one attempt, and of the order that it was for."""
        span = _span(listed)
        events = tuple(stamped_from(*row) for row in self._database.rows(OF_UNIT, span))
        return Attempt(listed.run, *self._opening(span), events)

    def seal(self, listed: Listed) -> str:
        """The seal over the verdict of an attempt, SHA-256 as hexadecimal digits; empty where there is none yet."""
        row = first_row(self._database, SEAL, _span(listed))
        return bytes(row[0]).hex() if row is not None and row[0] is not None else ""

    def of_order(self, number: str, *kinds: type[Event]) -> Iterator[Attempt]:
        """Every attempt at a unit for an order, in the order of work, with its begin and its events of these kinds.

        Attempts of one run share what began with the order. For a report on many units, which needs few events.
        """
        wanted = sorted({UnitStarted.kind, *(kind.kind for kind in kinds)})
        question = OF_RUN.format(kinds=", ".join(f":kind{index}" for index in range(len(wanted))))
        values = {f"kind{index}": kind for index, kind in enumerate(wanted)}
        for bench, run, first, last, name in list(self._database.rows(RUNS_OF_ORDER, {"number": number})):
            span = {"bench": bench, "run": run, "first": first, "last": last}
            opening = self._opening(span)
            rows = self._database.rows(question, {**span, **values})
            for events in _by_unit(stamped_from(*row) for row in rows):
                yield Attempt(name, *opening, events)

    def _opening(self, span: Values) -> tuple[OrderStarted | None, OrderInputs | None]:
        opening = [stamped_from(*row).event for row in self._database.rows(OPENING, span)]
        started = next((one for one in opening if isinstance(one, OrderStarted)), None)
        inputs = next((one for one in opening if isinstance(one, OrderInputs)), None)
        return started, inputs

    def inputs_of_order(self, number: str) -> OrderInputs | None:
        """What an order was last begun with; None if the record does not know it."""
        row = first_row(self._database, LAST_INPUTS, {"number": number})
        event = None if row is None else stamped_from(*row).event
        return event if isinstance(event, OrderInputs) else None

    def decision(self, listed: Listed) -> Stamped | None:
        """What two persons have decided by hand of an attempt, with when; None if nothing was, or stands."""
        row = first_row(self._database, DECISION, {"bench": listed.bench, "first": listed.first})
        return None if row is None else stamped_from(*row)

    def calibration(self, listed: Listed, rig: str, nest: str) -> Calibration | None:
        """The calibration of its nest under which an attempt was made; None if there was none."""
        return calibration_before(self._database, rig, nest, listed.first, listed.bench)

    def uuid_of(self, bench: int) -> str:
        """What tells a bench apart everywhere, by its number in the store at hand."""
        row = first_row(self._database, "SELECT uuid FROM bench WHERE id = :bench", {"bench": bench})
        return "" if row is None else str(row[0])

    def serials(self) -> list[str]:
        """Every serial that was put into a nest, in alphabetical order."""
        return [serial for (serial,) in self._database.rows(SERIALS)]


def _span(listed: Listed) -> Values:
    return {
        "serial": listed.serial,
        "bench": listed.bench,
        "run": listed.run_id,
        "first": listed.first,
        "last": listed.last,
    }


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
    """Open a store for reading; raises JournalError when it is missing, damaged or of another version."""
    with reading(path) as database:
        yield Records(SqliteDatabase(database))
