"""`teachrig forward`: send what waits on this bench to the shop's database, by hand."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from rig.cli.exits import Exit, GiveUp, narrate
from rig.cli.inputs import data_folder
from rig.cli.json_text import print_json
from rig.journal import JournalError
from rig.session import JOURNAL_NAME
from rig.store.outbox import URL_FILE, URL_VARIABLE, url_of
from wiring.plainwords import printable


def command(options: Namespace) -> int:
    """Send it; 2 where there is no shop or no record, 3 if the shop takes nothing now."""
    store = data_folder(options.data) / JOURNAL_NAME
    url = url_or_give_up(store.parent)
    from rig.store.forwarding import send_by_hand
    from rig.store.shop import ShopAway, spoken

    try:
        sent = send_by_hand(store, url)
    except ShopAway as away:
        raise GiveUp(Exit.BENCH_FAULT, f"{away}; what was not taken waits here") from None
    except JournalError as failure:
        raise GiveUp(Exit.BAD_INPUT, str(failure)) from None
    if options.json:
        print_json({"shop": spoken(url), "sent": sent})
    else:
        narrate(f"{sent} entries sent to {spoken(url)}; nothing waits here")
    return Exit.DONE


def url_or_give_up(data: Path) -> str:
    """The URL of the shop's database."""
    try:
        url = url_of(data)
    except JournalError as refused:
        raise GiveUp(Exit.BAD_INPUT, str(refused)) from None
    if url is None:
        words = (
            f"no shop is named; allowed: its URL in {URL_VARIABLE}, or in {printable(str(data / URL_FILE))}"
        )
        raise GiveUp(Exit.BAD_INPUT, words)
    return url
