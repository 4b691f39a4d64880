"""What the record tells of one unit over the years: each time in a nest, and what was decided and written after it."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, or_, select

from rig.events import Purpose
from rig.finding.opening import Store
from rig.finding.units import as_unit, question
from rig.finding.wanted import Wanted
from rig.records import Listed, Records
from rig.recount.drift import Drift, drifts
from rig.store.schema import attempt, correction, decision, document, entry

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Chapter:
    """One time in the nest.

    Attributes:
        number: which time, counted from 1 as `explain --run` counts.
        unit: keyed by the columns `UNITS`.
        words: of the verdict.
        since: number of the chapter that `drift` is held against; None where nothing can be compared.
        decided, papers, corrected: what was entered afterwards, in the order of the account.

    """

    number: int
    unit: Row
    words: str
    since: int | None
    drift: Sequence[Drift]
    decided: Sequence[Row]
    papers: Sequence[Row]
    corrected: Sequence[Row]


def story(store: Store, serial: str) -> list[Chapter]:
    """Every chapter of a unit, the first one first; none for a serial that is not in the record."""
    listed = store.records.attempts(serial)
    asked = question(Wanted(exactly={"serial": (serial,)}, every_attempt=True))
    rows = {(row["account"], row["entry"]): row for row in store.connection.execute(asked).mappings()}
    decided, papers, corrected = (
        _rows(store.connection, one(serial)) for one in (_decided, _papers, _corrected)
    )
    chapters = []
    for number, one in enumerate(listed, start=1):
        after = [later for later in listed[number:] if later.bench == one.bench]
        until = after[0].first if after else None
        judged = store.records.attempt(one).judged
        since, drift = _drift(store.records, listed[:number])
        chapters.append(
            Chapter(
                number,
                as_unit(rows[one.bench, one.first]),
                "" if judged is None else judged.words,
                since,
                drift,
                [row for row in decided if (row["of_bench"], row["attempt"]) == (one.bench, one.first)],
                [
                    row
                    for row in papers
                    if row["account"] == one.bench and _between(row["entry"], one.first, until)
                ],
                [
                    {**row, **_right(row["body"])}
                    for row in corrected
                    if row["account"] == one.bench and one.first <= row["corrects"] <= one.last
                ],
            )
        )
    return chapters


def _between(number: int, first: int, until: int | None) -> bool:
    return first <= number and (until is None or number < until)


def _drift(records: Records, listed: Sequence[Listed]) -> tuple[int | None, Sequence[Drift]]:
    """What has moved since the latest chapter that can be compared with; a unit that was set anew has not moved."""
    *earlier, last = listed
    now = records.attempt(last)
    if now.started is None or now.started.purpose is Purpose.SET:
        return None, ()
    for number in range(len(earlier), 0, -1):
        found = drifts(records.attempt(earlier[number - 1]), now)
        if found:
            return number, found
    return None, ()


def _rows(connection: Connection, asked: Select[Any]) -> list[Row]:
    return [dict(row) for row in connection.execute(asked).mappings()]


def _decided(serial: str) -> Select[Any]:
    return select(decision).where(decision.c.serial == serial).order_by(decision.c.bench, decision.c.number)


def _papers(serial: str) -> Select[Any]:
    """Those of the unit, and those of its orders."""
    orders = select(attempt.c.order_number).where(attempt.c.serial == serial)
    about: ColumnElement[bool] = or_(
        document.c.serial == serial, and_(document.c.serial == "", document.c.order_number.in_(orders))
    )
    return (
        select(
            document.c.bench.label("account"),
            document.c.number.label("entry"),
            document.c.kind,
            document.c.serial,
            document.c.order_number.label("order"),
            document.c.person,
            document.c.sha256,
            document.c.utc,
        )
        .where(about)
        .order_by(document.c.bench, document.c.number)
    )


def _corrected(serial: str) -> Select[Any]:
    within = and_(
        attempt.c.bench == correction.c.bench,
        attempt.c.first <= correction.c.corrects,
        attempt.c.last >= correction.c.corrects,
    )
    itself = and_(entry.c.bench == correction.c.bench, entry.c.number == correction.c.number)
    return (
        select(
            correction.c.bench.label("account"),
            correction.c.number.label("entry"),
            correction.c.corrects,
            correction.c.person,
            correction.c.why,
            correction.c.utc,
            entry.c.body,
        )
        .select_from(attempt.join(correction, within).join(entry, itself))
        .where(attempt.c.serial == serial)
        .order_by(correction.c.bench, correction.c.number)
    )


def _right(body: str) -> Row:
    told = json.loads(body)
    return {"field": told["field"], "right": told["right"]}


def as_dicts(chapters: Sequence[Chapter]) -> Iterator[dict[str, Any]]:
    """The chapters for a program."""
    for one in chapters:
        yield {
            "attempt": one.number,
            **one.unit,
            "words": one.words,
            "drift_since_attempt": one.since,
            "drift": [_drift_as_dict(moved) for moved in one.drift],
            "decisions": [
                _without(row, "of_bench", "attempt", "serial", "order_number") for row in one.decided
            ],
            "papers": list(one.papers),
            "corrections": [_without(row, "body") for row in one.corrected],
        }


def _without(row: Row, *names: str) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in names}


def _drift_as_dict(moved: Drift) -> dict[str, Any]:
    told = {name: getattr(moved, name) for name in type(moved).__slots__}
    return {**told, "changed": moved.changed}
