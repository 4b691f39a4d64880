"""Orders with their state, their counts and their yield, the one that was last worked on first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum
from typing import Any

from sqlalchemy import ColumnElement, Connection, RowMapping, Select, and_, func, literal, select, tuple_

from rig.events import THE_RIG, Purpose
from rig.finding.counted import Grouping, counted
from rig.finding.tally import Tally
from rig.finding.units import Page, Place
from rig.finding.wanted import Wanted
from rig.store.schema import shop_order


class OrderState(StrEnum):
    """How an order stands."""

    DONE = "done"
    OPEN = "open"
    IN_WORK = "in work"


_OF_ORDERS = {
    "order_number": "number",
    "customer": "customer",
    "sensor_type": "sensor_type",
    "purpose": "purpose",
}


def orders(
    connection: Connection,
    wanted: Wanted,
    most: int,
    after: Place | None = None,
    state: OrderState | None = None,
) -> Page:
    """A page of at most so many orders, keyed by the columns `ORDERS`."""
    found = connection.execute(_question(wanted, state, after).limit(most + 1)).mappings().all()
    page = found[:most]
    tallies = _tallies(connection, page)
    rows = [_row(one, tallies.get((one["number"], one["purpose"])) or Tally()) for one in page]
    return Page(rows, Place(page[-1]["last_utc"], page[-1]["run"], 0) if len(found) > most else None)


def _question(wanted: Wanted, state: OrderState | None, after: Place | None) -> Select[Any]:
    """The last run of each order, with when the first one began."""
    run, last_utc = func.max(shop_order.c.run), func.max(shop_order.c.begun_utc)
    heads = (
        select(
            run.label("run"), func.min(shop_order.c.begun_utc).label("began_utc"), last_utc.label("last_utc")
        )
        .where(*_conditions(wanted))
        .group_by(shop_order.c.number, shop_order.c.purpose)
    )
    if after is not None:
        heads = heads.having(tuple_(last_utc, run) < tuple_(literal(after.began_utc), literal(after.account)))
    head = heads.subquery()
    asked = select(shop_order, head.c.began_utc, head.c.last_utc).join(head, head.c.run == shop_order.c.run)
    if state is not None:
        asked = asked.where(_STATES[state])
    return asked.order_by(head.c.last_utc.desc(), head.c.run.desc())


_STATES: Mapping[OrderState, ColumnElement[bool]] = {
    OrderState.DONE: and_(shop_order.c.ended_utc.is_not(None), shop_order.c.left_over == 0),
    OrderState.OPEN: and_(shop_order.c.ended_utc.is_not(None), shop_order.c.left_over != 0),
    OrderState.IN_WORK: shop_order.c.ended_utc.is_(None),
}


_ORDERED = tuple(str(one) for one in Purpose if not one.judges_no_setting)
"""What somebody has ordered: surveys and studies are numbered as orders are, but ask for no setting; nor
does a check unit, which belongs to its rig."""


def _conditions(wanted: Wanted) -> Iterator[ColumnElement[bool]]:
    if not wanted.exactly.keys() & {"purpose", "order_number"}:
        yield shop_order.c.purpose.in_(_ORDERED)
        if "customer" not in wanted.exactly:
            yield shop_order.c.customer != THE_RIG
    for name, column in _OF_ORDERS.items():
        if name in wanted.exactly:
            yield shop_order.c[column].in_(wanted.exactly[name])
    if wanted.since is not None:
        yield shop_order.c.begun_utc >= wanted.since
    if wanted.before is not None:
        yield shop_order.c.begun_utc < wanted.before


def _tallies(connection: Connection, page: Sequence[RowMapping]) -> dict[tuple[str, str], Tally]:
    numbers = defaultdict[str, list[str]](list)
    for one in page:
        numbers[one["purpose"]].append(one["number"])
    return {
        (number, purpose): tally
        for purpose, several in numbers.items()
        for number, tally in counted(
            connection,
            Wanted(exactly={"order_number": tuple(several), "purpose": (purpose,)}),
            Grouping.ORDER,
        )[1].items()
    }


def _row(head: RowMapping, tally: Tally) -> dict[str, Any]:
    if head["ended_utc"] is None:
        state, left = OrderState.IN_WORK, max(head["quantity"] - tally.units, 0)
    else:
        left = head["left_over"]
        state = OrderState.OPEN if left else OrderState.DONE
    same = ("quantity", "began_utc", "sensor_type", "purpose", "customer", "setting", "last_utc")
    return {
        "order": head["number"],
        "state": str(state),
        "left": left,
        "simulated": bool(head["simulated"]),
        **{name: head[name] for name in same},
        **tally.as_row(),
    }
