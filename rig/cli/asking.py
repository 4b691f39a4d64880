"""Asks the store on behalf of a command: filters as they were typed, and what to say when that cannot be."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace

from sqlalchemy import Connection

from rig.cli.exits import Exit, GiveUp, narrate, reader_may_leave
from rig.cli.forward import url_or_give_up
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.layout import Page as Paper
from rig.cli.listing import print_columns, print_rows, write_csv
from rig.events import Purpose, Verdict
from rig.finding.columns import Column
from rig.finding.opening import Store, open_shop_store, open_store
from rig.finding.units import Page, Place, Row
from rig.finding.wanted import Asked, NotFound, Wanted, resolved
from rig.journal import JournalError
from rig.sequencer.findings import Reason
from rig.session import JOURNAL_NAME
from rig.store.shop import ShopAway
from wiring.plainwords import near_miss, printable

PAGE = 20
_AT_ONCE = 1000

Fetch = Callable[[int, Place | None], Page]
Ask = Callable[[Connection, Wanted, int, Place | None], Page]


@contextmanager
def opened_store(options: Namespace) -> Iterator[Store]:
    """The store of the bench, or with `--shop` that of the shop; whatever is wrong with it gives up."""
    data = data_folder(options.data)
    try:
        with (
            open_shop_store(url_or_give_up(data))
            if options.shop
            else open_store(data / JOURNAL_NAME) as store
        ):
            yield store
    except ShopAway as away:
        raise GiveUp(Exit.BENCH_FAULT, str(away)) from None
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None


@contextmanager
def asked_store(options: Namespace) -> Iterator[tuple[Connection, Wanted]]:
    """The store, and which units of it are wanted; whatever is wrong with either gives up."""
    with opened_store(options) as store:
        yield store.connection, _wanted(options, store)


def _wanted(options: Namespace, store: Store) -> Wanted:
    given = vars(options)
    asked = Asked(
        serial=given.get("serial"),
        order=options.order,
        customer=options.customer,
        sensor_type=options.type,
        person=given.get("person"),
        bench=given.get("at_bench"),
        verdict=None if given.get("verdict") is None else Verdict(options.verdict),
        reason=_reason(given.get("reason")),
        purpose=None if given.get("work") is None else Purpose(options.work),
        since=options.since,
        until=options.until,
        every_attempt=given.get("attempts", False),
    )
    try:
        wanted = resolved(store.connection, asked)
    except NotFound as unknown:
        raise GiveUp(Exit.BAD_INPUT, str(unknown)) from None
    named = () if wanted.part is None else store.records.bearing(wanted.part)
    return replace(wanted, part=None, exactly={**wanted.exactly, "serial": named}) if named else wanted


def _reason(given: str | None) -> str | None:
    if given is None:
        return None
    word = given.strip().casefold().replace(" ", "-")
    known = sorted(Reason)
    if word not in known:
        near = near_miss(word, known) or f"; allowed: {', '.join(known)}"
        raise GiveUp(Exit.BAD_INPUT, f"no reason {printable(given, 40)!r}{near}")
    return word


def tell_list(options: Namespace, name: str, columns: Sequence[Column], ask: Ask) -> int:
    """A list of the record, page by page, as table, JSON or CSV."""
    with reader_may_leave():
        if options.columns:
            print_columns(columns, Paper())
            return Exit.DONE
        with asked_store(options) as (connection, wanted):

            def fetch(most: int, after: Place | None) -> Page:
                return ask(connection, wanted, most, after)

            if options.csv is not None:
                write_csv(columns, every(fetch, options.next, options.limit), options)
                return Exit.DONE
            page = _page_of(options, fetch)
        if options.json:
            print_json({name: list(page.rows), "next": None if page.more is None else str(page.more)})
        elif not nothing(page.rows):
            print_rows(columns, page.rows, Paper())
            _tell_simulated(page)
            _tell_more(page)
    return Exit.DONE


def _page_of(options: Namespace, fetch: Fetch) -> Page:
    """The page that was asked for; all of them where no size was given and a program reads."""
    most = options.limit or (None if options.json else PAGE)
    return Page(list(every(fetch, options.next)), None) if most is None else fetch(most, options.next)


def every(fetch: Fetch, after: Place | None = None, most: int | None = None) -> Iterator[Row]:
    """Row by row, over all pages, or so many rows of them."""
    left = most
    while left is None or left > 0:
        page = fetch(_AT_ONCE if left is None else min(left, _AT_ONCE), after)
        yield from page.rows
        if page.more is None:
            return
        after, left = page.more, None if left is None else left - len(page.rows)


def _tell_simulated(page: Page) -> None:
    count = sum(row["simulated"] for row in page.rows)
    if count:
        every_one = "all" if count == len(page.rows) else f"{count} of {len(page.rows)}"
        narrate(f"SIMULATED: {every_one} of these come from a simulated bench, their units are made up")


def _tell_more(page: Page) -> None:
    """How to see the next page, if there is one."""
    if page.more is not None:
        narrate(f"there are more: --limit for a longer page, or the same with --next {page.more}")


def nothing(rows: Sequence[object]) -> bool:
    """Say so, where there is nothing."""
    if not rows:
        narrate("nothing in the record fits")
    return not rows
