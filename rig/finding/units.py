"""Units that are wanted, page by page, the newest first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, and_, func, literal, select, tuple_

from rig.finding.conditions import NEWEST_FIRST, asks_for_part_only, conditions
from rig.finding.dialects import Unindexed
from rig.finding.wanted import Wanted
from rig.store.schema import attempt, bench, decision

Row = Mapping[str, Any]

_NEWEST = 1000


@dataclass(frozen=True, slots=True)
class Place:
    """Between which rows a page ends: after this one."""

    began_utc: str
    account: int
    entry: int

    def __str__(self) -> str:
        return f"{self.began_utc}/{self.account}/{self.entry}"

    @classmethod
    def read(cls, text: str) -> Place:
        """A place as it was told; raises ValueError for anything else."""
        began, _, numbers = text.partition("/")
        account, _, entry = numbers.partition("/")
        # The accounts of a copy that was put back while a bench worked have numbers below nought.
        if not (began and numbers.isascii() and account.removeprefix("-").isdigit() and entry.isdigit()):
            raise ValueError("no place in the list; allowed: what the page before told for the next one")
        return cls(began, int(account), int(entry))


@dataclass(frozen=True, slots=True)
class Page:
    """Some of the rows; `more` is where the next page begins, None after the last one."""

    rows: Sequence[Row]
    more: Place | None


def units(connection: Connection, wanted: Wanted, most: int, after: Place | None = None) -> Page:
    """A page of at most so many units, keyed by the columns `UNITS`."""
    rows = _rows(connection, wanted, most + 1, after)
    page = [as_unit(row) for row in rows[:most]]
    if len(rows) <= most:
        return Page(page, None)
    last = page[-1]
    return Page(page, Place(last["began_utc"], last["account"], last["entry"]))


def _rows(connection: Connection, wanted: Wanted, most: int, after: Place | None) -> Sequence[RowMapping]:
    if asks_for_part_only(wanted):
        # What many serials have is soon found among the newest; only what few have needs a look at every serial.
        newest = select(attempt.c.began_utc).order_by(attempt.c.began_utc.desc())
        if after is not None:
            newest = newest.where(attempt.c.began_utc <= after.began_utc)
        since = connection.scalar(newest.offset(_NEWEST).limit(1))
        if since is not None:
            asked = question(replace(wanted, since=since), most, after)
            rows = connection.execute(asked).mappings().all()
            if len(rows) == most:
                return rows
    return connection.execute(question(wanted, most, after)).mappings().all()


def question(wanted: Wanted, most: int | None = None, after: Place | None = None) -> Select[Any]:
    """The question to the store."""
    wanted_here = conditions(wanted)
    if most is not None and asks_for_part_only(wanted):
        wanted_here = [_among_serials(wanted, most, after)]
    asked = (
        select(*_COLUMNS)
        .select_from(attempt.join(bench, bench.c.id == attempt.c.bench).outerjoin(decision, OF_ATTEMPT))
        .where(*wanted_here, *_beyond(attempt.c.began_utc, after))
        .order_by(*NEWEST_FIRST)
    )
    return asked if most is None else asked.limit(most)


def _among_serials(wanted: Wanted, most: int, after: Place | None) -> ColumnElement[bool]:
    """Looks for part of a serial in the index, which is far smaller than the table and holds all that is asked for."""
    by_time = Unindexed(attempt.c.began_utc)
    found = (
        select(attempt.c.bench, attempt.c.first)
        .where(*conditions(wanted), *_beyond(by_time, after))
        .order_by(by_time.desc(), *NEWEST_FIRST[1:])
        .limit(most)
    )
    rows = found.subquery()
    return tuple_(attempt.c.bench, attempt.c.first).in_(select(rows))


def as_unit(row: RowMapping) -> dict[str, Any]:
    """A row of the store as the columns `UNITS` have it."""
    return {**dict(row), "simulated": bool(row["simulated"]), "done_again": bool(row["done_again"])}


def _beyond(by_time: ColumnElement[str], after: Place | None) -> list[ColumnElement[bool]]:
    if after is None:
        return []
    place = tuple_(by_time, attempt.c.bench, attempt.c.first)
    here = tuple_(literal(after.began_utc), literal(after.account), literal(after.entry))
    # The first one leads through the index, the second one is exact.
    return [by_time <= after.began_utc, place < here]


OF_ATTEMPT = and_(
    decision.c.of_bench == attempt.c.bench, decision.c.attempt == attempt.c.first, decision.c.stands == 1
)
"""Joins `decision` to `attempt`: what was decided by hand, if anything was."""

BY_HAND = func.coalesce(decision.c.verdict, "")

_COLUMNS = (
    attempt.c.serial,
    attempt.c.verdict,
    attempt.c.reason,
    attempt.c.began_utc,
    attempt.c.order_number.label("order"),
    BY_HAND.label("by_hand"),
    attempt.c.sensor_type,
    attempt.c.person,
    attempt.c.seconds,
    attempt.c.purpose,
    attempt.c.setting,
    attempt.c.customer,
    bench.c.name.label("bench"),
    attempt.c.ended_utc,
    attempt.c.air_c,
    attempt.c.air_humidity_percent,
    attempt.c.rig,
    attempt.c.software,
    attempt.c.simulated,
    attempt.c.superseded.label("done_again"),
    attempt.c.bench.label("account"),
    attempt.c.first.label("entry"),
)
