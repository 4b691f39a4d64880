"""Units of the store, counted by order, type, customer, bench, person, rig or time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from enum import StrEnum

from sqlalchemy import ColumnElement, Connection, func, literal, select

from rig.finding.conditions import conditions
from rig.finding.tally import Tally, Tried, tallies
from rig.finding.units import BY_HAND, OF_ATTEMPT
from rig.finding.wanted import Wanted
from rig.store.schema import attempt, bench, decision

_AT_ONCE = 5000


class Grouping(StrEnum):
    """What is counted together."""

    ORDER = "order"
    TYPE = "type"
    CUSTOMER = "customer"
    BENCH = "bench"
    PERSON = "person"
    RIG = "rig"
    YEAR = "year"
    MONTH = "month"
    DAY = "day"


_GROUPS: Mapping[Grouping, ColumnElement[str]] = {
    Grouping.ORDER: attempt.c.order_number,
    Grouping.TYPE: attempt.c.sensor_type,
    Grouping.CUSTOMER: attempt.c.customer,
    Grouping.BENCH: bench.c.name,
    Grouping.PERSON: attempt.c.person,
    Grouping.RIG: attempt.c.rig,
    Grouping.YEAR: func.substr(attempt.c.began_utc, 1, 4),
    Grouping.MONTH: func.substr(attempt.c.began_utc, 1, 7),
    Grouping.DAY: func.substr(attempt.c.began_utc, 1, 10),
}


def counted(
    connection: Connection, wanted: Wanted, grouping: Grouping | None = None
) -> tuple[Tally, Mapping[str, Tally]]:
    """All wanted units together, and by group; every attempt counts, whatever `wanted` says of that."""
    return tallies(_attempts(connection, wanted, grouping))


def _attempts(connection: Connection, wanted: Wanted, grouping: Grouping | None) -> Iterator[Tried]:
    everyone = Wanted(wanted.part, wanted.exactly, wanted.since, wanted.before, every_attempt=True)
    asked = (
        select(
            literal("") if grouping is None else _GROUPS[grouping],
            attempt.c.serial,
            attempt.c.order_number,
            attempt.c.purpose,
            attempt.c.verdict,
            BY_HAND,
            attempt.c.reason,
            attempt.c.seconds,
        )
        .select_from(attempt.join(bench, bench.c.id == attempt.c.bench).outerjoin(decision, OF_ATTEMPT))
        .where(*conditions(everyone))
        .order_by(attempt.c.bench, attempt.c.first)
        .execution_options(yield_per=_AT_ONCE)
    )
    for group, serial, order, purpose, verdict, by_hand, reason, seconds in connection.execute(asked):
        yield Tried(group, (serial, order, purpose), verdict, by_hand, reason, seconds)
