"""The check unit of a rig out of the record; what is noted of it stands in short runs that bear the rig's name."""

from __future__ import annotations

from pathlib import Path

from rig.control.check_unit import Account, account_of
from rig.events import CheckUnitGivenUp, CheckUnitKept, CheckUnitLookedAt, CheckUnitMeasured, Event
from rig.journal import STAMPED_COLUMNS, reading, stamped_from
from rig.noting import note
from rig.store.database import Database, SqliteDatabase

_KINDS = (CheckUnitKept, CheckUnitMeasured, CheckUnitLookedAt, CheckUnitGivenUp)
# Each of these runs has one entry; another program may have written between its begin and that.
_LONGEST = 100
_NOTED = (
    f"SELECT {', '.join(f'e.{one}' for one in STAMPED_COLUMNS.split(', '))} FROM run r "
    "JOIN entry e ON e.bench = r.bench AND e.number >= r.first AND e.number < r.first + :longest AND e.run = r.id "
    "WHERE r.name LIKE :name ESCAPE '!' AND e.number < :before AND (:bench = 0 OR e.bench = :bench) "
    f"AND e.kind IN ({', '.join(repr(one.kind) for one in _KINDS)}) ORDER BY e.bench, e.number"
)
_JUDGED_SINCE = (
    "SELECT a.serial FROM run r JOIN attempt a ON a.bench = r.bench AND a.first > r.first "
    "WHERE r.name = :run AND a.rig = :rig AND a.serial <> :own AND a.verdict <> '' ORDER BY a.bench, a.first"
)
_END = 2**62


def account_in(path: Path, rig: str) -> Account | None:
    """The check unit of a rig with all that is known of it; None if it keeps none. Raises JournalError."""
    if not path.is_file():
        return None
    with reading(path) as database:
        return account_before(SqliteDatabase(database), rig)


def account_before(
    database: Database, rig: str, entry: int = _END, of_bench: int | None = None
) -> Account | None:
    """The same as it stood before an entry of the account of a bench; of that one only, where it is given."""
    values = {"name": f"%-{_run(rig)}", "longest": _LONGEST, "before": entry, "bench": of_bench or 0}
    return account_of(stamped_from(*row) for row in database.rows(_NOTED, values))


def judged_since_trusted(path: Path, account: Account) -> tuple[str, ...]:
    """Serials that got a verdict on the rig since the last measurement before an open signal, as they came.

    What is wrong now may have been wrong with them already. None without a signal. Raises JournalError.
    """
    trusted = account.last_trusted
    if trusted is None:
        return ()
    values = {"run": trusted.run, "rig": account.unit.rig, "own": account.unit.serial}
    with reading(path) as database:
        return tuple(
            dict.fromkeys(serial for (serial,) in SqliteDatabase(database).rows(_JUDGED_SINCE, values))
        )


def enter(path: Path, rig: str, order: str, serial: str, event: Event) -> None:
    """Note something of a check unit; it is on the disk on return. Raises JournalError."""
    note(path, _run(rig), [(order, serial, event)])


def _run(rig: str) -> str:
    return f"check-unit-{rig}"
