"""What rows of `attempt` have to fulfil to be wanted, so that one index leads to them, newest first."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import ColumnElement, and_

from rig.events import Purpose
from rig.finding.dialects import Unindexed, contains
from rig.finding.wanted import Wanted
from rig.store.schema import attempt, entry

# Each has an index in which its rows stand by time; the one that leaves the fewest comes first.
_BEST_FIRST = (
    "serial", "order_number", "reason", "customer", "person", "sensor_type", "bench", "purpose", "verdict",
)  # fmt: skip
_FEW_EACH = ("serial", "order_number")
_MOST_ARE = (str(Purpose.SET),)


def conditions(wanted: Wanted) -> list[ColumnElement[bool]]:
    """Conditions on the table `attempt`, all of which a wanted row fulfils."""
    return list(_conditions(wanted))


def _conditions(wanted: Wanted) -> Iterator[ColumnElement[bool]]:
    best = _best(wanted)
    if wanted.part is not None:
        # First: what few rows fulfil spares the look at all else in the others.
        yield contains(attempt.c.serial, wanted.part)
    for name, values in wanted.exactly.items():
        column = attempt.c[name]
        tested: ColumnElement[object] = column if name == best else Unindexed(column)
        yield tested == values[0] if len(values) == 1 else tested.in_(values)
    if not wanted.every_attempt:
        yield attempt.c.superseded == 0
    if wanted.since is not None:
        yield attempt.c.began_utc >= wanted.since
    if wanted.before is not None:
        yield attempt.c.began_utc < wanted.before


def entry_of_attempt() -> ColumnElement[bool]:
    """Whether a row of `entry` belongs to a row of `attempt`."""
    return and_(
        entry.c.bench == attempt.c.bench,
        entry.c.number >= attempt.c.first,
        entry.c.number <= attempt.c.last,
        entry.c.run == attempt.c.run,
        entry.c.serial == attempt.c.serial,
    )


def asks_for_part_only(wanted: Wanted) -> bool:
    """Whether no index leads to what is wanted, only a look at every serial."""
    return wanted.part is not None and not _best(wanted) and wanted.since is wanted.before is None


def _best(wanted: Wanted) -> str | None:
    """The column whose index is used; of several values only where each of them leaves few rows to put in order."""
    given = {name: values for name, values in wanted.exactly.items() if values != _MOST_ARE}
    return next(
        (one for one in _BEST_FIRST if one in given and (len(given[one]) == 1 or one in _FEW_EACH)), None
    )


NEWEST_FIRST = (attempt.c.began_utc.desc(), attempt.c.bench.desc(), attempt.c.first.desc())
"""The order of lists; no two rows are alike in all three."""
