"""`teachrig audit`: prove that the record is what it was when it was sealed, and name the first break."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path

from rig.cli.exits import Exit, GiveUp
from rig.cli.forward import url_or_give_up
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.cli.layout import Page
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from rig.store.audit import Account, Audit, Break, audit, audit_file
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Audit the store; 1 if something in it does not hold."""
    path = data_folder(options.data) / JOURNAL_NAME
    try:
        found = _of_shop(path) if options.shop else audit_file(path)
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    if options.json:
        print_json(asdict(found))
    else:
        page = Page()
        for line in _words(found):
            page.say(line)
    return Exit.DONE if found.broken is None else Exit.NOT_ALL_GOOD


def _of_shop(path: Path) -> Audit:
    from rig.store.shop import ShopDatabase, open_shop, speaking

    url = url_or_give_up(path.parent)
    engine = open_shop(url)
    try:
        with speaking(url), engine.connect() as connection:
            connection.execution_options(isolation_level="REPEATABLE READ")
            return audit(ShopDatabase(connection))
    finally:
        engine.dispose()


def _words(found: Audit) -> Iterator[str]:
    for account in found.accounts:
        yield _account(account)
    if found.broken is not None:
        yield _broken(found.broken)
        yield "Nothing after that place is proven. Keep the file as it is and compare it with a backup."
    else:
        yield "The record is what it was when it was sealed."


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
