"""`teachrig audit`: prove that the record is what it was when it was sealed, and name the first break."""

from __future__ import annotations

import os
from argparse import Namespace
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path

from rig.cli.exits import Exit, GiveUp
from rig.cli.forward import url_or_give_up
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from rig.store.against import LEAST_DIGITS, Held, against_seal, against_store
from rig.store.audit import Account, Audit, Break, audit, audit_file
from rig.store.database import Database, SqliteDatabase
from rig.store.opening import reading
from wiring.plainwords import printable

_SHOP = "shop"


def command(options: Namespace) -> int:
    """Audit the store; 1 if something in it does not hold, or is missing."""
    path = data_folder(options.data) / JOURNAL_NAME
    try:
        found = _of_shop(path) if options.shop else audit_file(path)
        held = _all_held(options, path) if options.against else []
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    if options.json:
        print_json(asdict(found) | {"against": [asdict(one) for one in held]})
    else:
        page = Page()
        for line in _words(found, held):
            page.say(line)
    whole = found.broken is None and all(one.holds for one in held)
    return Exit.DONE if whole else Exit.NOT_ALL_GOOD


@contextmanager
def _bench(path: Path) -> Iterator[Database]:
    with reading(path) as connection:
        yield SqliteDatabase(connection)


@contextmanager
def _shop(path: Path) -> Iterator[Database]:
    from rig.store.shop import ShopDatabase, open_shop, speaking

    url = url_or_give_up(path.parent)
    engine = open_shop(url)
    try:
        with speaking(url), engine.connect() as connection:
            connection.execution_options(isolation_level="REPEATABLE READ")
            yield ShopDatabase(connection)
    finally:
        engine.dispose()


def _of_shop(path: Path) -> Audit:
    with _shop(path) as database:
        return audit(database)


def _all_held(options: Namespace, path: Path) -> list[Held]:
    with _shop(path) if options.shop else _bench(path) as database:
        return [_held(database, what, path, of_shop=options.shop) for what in options.against]


def _held(database: Database, what: str, path: Path, *, of_shop: bool) -> Held:
    if what == _SHOP and not of_shop:
        with _shop(path) as shop:
            return against_store(database, shop, "the shop's database", all_of_it=False)
    if os.path.isfile(what):  # false, and no error, for what can be no name of a file
        with _bench(Path(what)) as other:
            return against_store(database, other, what, all_of_it=True)
    try:
        return against_seal(database, what)
    except ValueError:
        allowed = f"at least {LEAST_DIGITS} digits of a seal (0-9, a-f), a copy of the record, or {_SHOP}"
        words = f"--against: given {printable(what, 70)!r}; allowed: {allowed}"
        raise GiveUp(Exit.BAD_INPUT, words) from None


def _words(found: Audit, held: Sequence[Held]) -> Iterator[str]:
    for account in found.accounts:
        yield _account(account)
    if found.broken is not None:
        yield _broken(found.broken)
        yield "Nothing after that place is proven. Keep the file as it is and compare it with a backup."
    else:
        yield "The record is what it was when it was sealed."
    for one in held:
        yield f"{'' if one.holds else 'MISSING: '}{printable(one.against, 100)}: {one.words}"
    if found.broken is None and not held:
        yield "That nothing was cut off at its end shows against a later seal kept elsewhere (--against)."


def _account(account: Account) -> str:
    rest = f"; {account.open} entries of open work follow" if account.open else ""
    last = f", the last seal is {account.seal}" if account.seal else ""
    return f"bench {account.bench}: {account.entries} entries, {account.seals} seals{last}{rest}"


def _broken(found: Break) -> str:
    where = [
        f"bench {found.bench}" if found.bench else "",
        f"unit {printable(found.serial)}" if found.serial else "",
        f"at {found.utc}" if found.utc else "",
        f"entry {found.number}" if found.number is not None else "",
    ]
    return f"BROKEN: {', '.join(filter(None, where))}: {found.words}"
