"""Takes an order up where an earlier run left it: which of its units need nothing more."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain, islice, repeat
from pathlib import Path

from hal.simulated.benchfile import BenchFile, UnitRow
from rig.events import Purpose
from rig.sequencer.findings import Reason
from rig.store.database import Database, SqliteDatabase, Values, first_row
from rig.store.opening import reading

_RUNS = """SELECT run, left_over IS NOT NULL FROM shop_order
    WHERE number = :number AND purpose = :purpose AND simulated = :simulated ORDER BY run"""
_LAST = """SELECT begun_utc, left_over FROM shop_order
    WHERE number = :number AND purpose = :purpose AND simulated = :simulated ORDER BY run DESC LIMIT 1"""
_ATTEMPTS = "SELECT serial, reason FROM attempt WHERE run = :run ORDER BY bench, first"
# None at all while it is in work, or when the program was cut off.
_BROKEN_OFF = frozenset({"", Reason.INTERRUPTED, Reason.BENCH_TRIPPED})


def done_before(
    journal: Path, number: str, purpose: Purpose, serials: Sequence[str], *, simulated: bool
) -> tuple[str, ...]:
    """The units that have their verdict, of an order that was begun and not finished.

    None once every unit has one and the order was ended: then it begins anew. All of them if the program was cut off
    just before that. What was done on a simulated bench counts there only. Raises JournalError.
    """
    if not journal.is_file():
        return ()
    with reading(journal) as database:
        runs = {"number": number, "purpose": str(purpose), "simulated": int(simulated)}
        return _done(SqliteDatabase(database), runs, serials)


def _done(database: Database, runs: Values, serials: Sequence[str]) -> tuple[str, ...]:
    done: dict[str, None] = {}
    known = frozenset(serials)
    for run, ended in list(database.rows(_RUNS, runs)):
        for serial, reason in database.rows(_ATTEMPTS, {"run": run}):
            if reason in _BROKEN_OFF:
                done.pop(serial, None)
            elif serial in known:
                done[serial] = None
        if ended and len(done) == len(known):
            done.clear()
    return tuple(done)


def finished_before(journal: Path, number: str, purpose: Purpose, *, simulated: bool) -> str:
    """When the last run of an order was begun, UTC, if it ended with no unit left; else empty. Raises JournalError."""
    if not journal.is_file():
        return ""
    values = {"number": number, "purpose": str(purpose), "simulated": int(simulated)}
    with reading(journal) as database:
        last = first_row(SqliteDatabase(database), _LAST, values)
    return str(last[0]) if last is not None and last[1] == 0 else ""


def left_on_shelf(bench_file: BenchFile, serials: Sequence[str], done: Sequence[str]) -> BenchFile:
    """A simulated bench without the units that are done, so that each serial is still the same unit."""
    rows = list(islice(_one_by_one(bench_file), len(serials)))
    gone = frozenset(done)
    left = [row for row, serial in zip(rows, serials, strict=False) if serial not in gone]
    return bench_file.model_copy(update={"unit": tuple(left)}) if left else bench_file


def _one_by_one(bench_file: BenchFile) -> Iterator[UnitRow]:
    rounds = repeat(bench_file.unit) if bench_file.endless else (bench_file.unit,)
    for row in chain.from_iterable(rounds):
        yield from repeat(row.model_copy(update={"count": 1}), row.count)
