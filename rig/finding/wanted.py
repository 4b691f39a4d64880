"""Which units are wanted: names as a person types them, made into what the store holds."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from sqlalchemy import ColumnElement, Connection, select

from rig.events import Purpose, Verdict
from rig.finding.periods import period
from rig.store.schema import attempt, bench, person, shop_order
from wiring.plainwords import near_miss, printable

_MOST_NAMED = 8
_MOST_MEANT = 500


class NotFound(LookupError):
    """Nothing of that name is in the record; its text says what is."""


@dataclass(frozen=True, slots=True)
class Asked:
    """Filters as they were typed; None or empty: not filtered by.

    `since` and `until` are a year, month or day (`2026`, `2026-03`, `2026-03-05`), both within.
    """

    serial: str | None = None
    order: str | None = None
    customer: str | None = None
    sensor_type: str | None = None
    person: str | None = None
    bench: str | None = None
    verdict: Verdict | None = None
    reason: str | None = None
    purpose: Purpose | None = None
    since: str | None = None
    until: str | None = None
    every_attempt: bool = False


@dataclass(frozen=True, slots=True)
class Wanted:
    """The same in the words of the store.

    Attributes:
        part: part of a serial, where no whole one was given.
        exactly: column by its name, with the values of which it must have one.
        since, before: bounds of `began_utc`, the second one not within.

    """

    part: str | None = None
    exactly: dict[str, tuple[object, ...]] = field(default_factory=dict)
    since: str | None = None
    before: str | None = None
    every_attempt: bool = False


def resolved(connection: Connection, asked: Asked) -> Wanted:
    """What is meant: whole names go before parts of names, in whatever case.

    Raises:
        NotFound: for a name that the record does not hold.
        ValueError: for a date that is none.

    """
    exactly: dict[str, tuple[object, ...]] = {}
    for name, given, column in (
        ("order_number", asked.order, shop_order.c.number),
        ("customer", asked.customer, shop_order.c.customer),
        ("sensor_type", asked.sensor_type, shop_order.c.sensor_type),
        ("person", asked.person, person.c.name),
    ):
        if given is not None:
            exactly[name] = _meant(connection, _SPOKEN[name], given, column)
    if asked.bench is not None:
        exactly["bench"] = _benches(connection, asked.bench)
    if asked.verdict is not None:
        exactly["verdict"] = (str(asked.verdict),)
    if asked.purpose is not None:
        exactly["purpose"] = (str(asked.purpose),)
    if asked.reason is not None:
        exactly["reason"] = (asked.reason,)
    part = asked.serial
    if part is not None and _is_whole(connection, part):
        exactly["serial"], part = (part,), None
    since = None if asked.since is None else period(asked.since)[0]
    before = None if asked.until is None else period(asked.until)[1]
    return Wanted(part, exactly, since, before, asked.every_attempt)


_SPOKEN = {"order_number": "order", "customer": "customer", "sensor_type": "sensor type", "person": "person"}


def _is_whole(connection: Connection, serial: str) -> bool:
    return (
        connection.execute(select(attempt.c.first).where(attempt.c.serial == serial).limit(1)).first()
        is not None
    )


def _meant(connection: Connection, spoken: str, given: str, column: ColumnElement[str]) -> tuple[str, ...]:
    known: Sequence[str] = connection.execute(select(column).distinct().order_by(column)).scalars().all()
    return _chosen(spoken, given, known)


def _chosen(spoken: str, given: str, known: Sequence[str]) -> tuple[str, ...]:
    folded = given.casefold()
    whole = tuple(one for one in known if one.casefold() == folded)
    meant = whole or tuple(one for one in known if folded in one.casefold())
    if not given or not meant:
        raise NotFound(f"no {spoken} {printable(given, 60)!r} in the record{_instead(spoken, given, known)}")
    if len(meant) > _MOST_MEANT:
        raise NotFound(
            f"{printable(given, 60)!r} is part of {len(meant)} names; allowed: more of the {spoken}"
        )
    return meant


def _instead(spoken: str, given: str, known: Sequence[str]) -> str:
    if not known:
        return f"; it holds no {spoken} yet"
    if len(known) <= _MOST_NAMED:
        return f"; allowed: {', '.join(printable(one, 60) for one in known)}, or part of one"
    return near_miss(given, [printable(one, 60) for one in known])


def _benches(connection: Connection, given: str) -> tuple[int, ...]:
    """By name, or by the begin of what tells benches of one name apart."""
    rows = connection.execute(select(bench.c.id, bench.c.name, bench.c.uuid)).all()
    meant = tuple(row.id for row in rows if given and row.uuid.startswith(given.casefold()))
    if meant:
        return meant
    names = _chosen("bench", given, sorted({row.name for row in rows}))
    return tuple(row.id for row in rows if row.name in names)
