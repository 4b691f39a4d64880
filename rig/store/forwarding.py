"""Sends the account of a bench on to the shop's database: in order, each entry once, whatever falls silent meanwhile.

The store of the bench is the list of what is to be sent. The shop's database knows how far it has it, and moves that
mark in the transaction that adds the entries: what was not committed there is simply sent again.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from sqlalchemy import Engine

from rig.store.carrying import BENCHES, agree, carry_some
from rig.store.database import Database, SqliteDatabase
from rig.store.opening import reading
from rig.store.shop import ShopDatabase, ShopRefused, open_shop, speaking

_QUIET_S = 2.0
_AWAY_S = (2.0, 5.0, 15.0, 60.0)

_ENTER_BENCH = (
    "INSERT INTO bench (uuid, name, made_utc) VALUES (:uuid, :name, :made_utc) ON CONFLICT (uuid) DO NOTHING"
)
_MARK = "SELECT id, forwarded FROM bench WHERE uuid = :uuid FOR UPDATE"
_MOVE_MARK = "UPDATE bench SET forwarded = :number WHERE id = :bench"
_LAST = "SELECT coalesce(max(number), 0) FROM entry WHERE bench = :bench"


class Line:
    """An open line from the store of a bench to the shop's database.

    Raises:
        ShopAway: when the shop's database cannot be reached.
        ShopRefused: when it is not what it should be.

    """

    def __init__(self, store: Path, url: str) -> None:
        self._store = store
        self._url = url
        self._shop: Engine = open_shop(url)
        self._agreed: set[str] = set()

    def send_all(self) -> int:
        """Send what is there, the oldest first; returns how many entries went.

        Raises:
            ShopAway: when the shop's database falls silent; what was acknowledged stays there.
            ShopRefused: when it holds entries of a bench that this store does not.
            JournalError: when the store cannot be read.

        """
        sent = 0
        with reading(self._store) as database, speaking(self._url):
            local = SqliteDatabase(database)
            for bench, *identity in list(local.rows(BENCHES)):
                while count := self._send_some(local, bench, identity):
                    sent += count
        return sent

    def close(self) -> None:
        """Let the line go."""
        self._shop.dispose()

    def _send_some(self, local: Database, bench: int, identity: Sequence[Any]) -> int:
        uuid, name, made_utc = identity
        with self._shop.begin() as connection:
            shop = ShopDatabase(connection)
            shop.run(_ENTER_BENCH, {"uuid": uuid, "name": name, "made_utc": made_utc})
            ((there, mark),) = shop.rows(_MARK, {"uuid": uuid})
            if uuid not in self._agreed:
                _must_agree(local, bench, shop, there, mark)
                self._agreed.add(uuid)
            last = carry_some(local, bench, shop, there, mark)
            if last > mark:
                shop.run(_MOVE_MARK, {"bench": there, "number": last})
        return last - int(mark)


def _must_agree(local: Database, bench: int, shop: Database, there: int, mark: int) -> None:
    """What the shop has of this bench must be what the bench has itself: nobody may have copied its folder."""
    ((last,),) = local.rows(_LAST, {"bench": bench})
    ((current,),) = local.rows("SELECT max(id) FROM bench")
    # An earlier bench of a store that was put back may well be behind: its account goes on nowhere.
    behind = last < mark and bench == current
    if behind or not agree(local, bench, shop, there, min(mark, last)):
        raise ShopRefused(
            f"the shop's database holds {mark} entries of this bench that do not continue into its own {last}: its "
            "folder was copied, or put back by hand; use teachrig backup and restore for that. Nothing was sent"
        )


class Forwarder:
    """Sends in a thread of its own for as long as a bench works; whatever goes wrong there holds nobody up.

    Attributes:
        trouble: why nothing goes on now, in words; empty while all is well.

    """

    def __init__(self, store: Path, url: str) -> None:
        self.trouble = ""
        self._store = store
        self._url = url
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._work, name="forwarder", daemon=True)

    def start(self) -> Forwarder:
        """Begin; returns at once."""
        self._thread.start()
        return self

    def stop(self, patience_s: float = 3.0) -> None:
        """Send what is there once more, if that is quick, and end; the rest goes another time."""
        self._stop.set()
        self._thread.join(patience_s)

    def _work(self) -> None:
        line: Line | None = None
        silent = 0
        while True:
            last_time = self._stop.is_set()
            try:
                line = line or Line(self._store, self._url)
                line.send_all()
                self.trouble, silent, pause_s = "", 0, _QUIET_S
            except Exception as failure:  # nobody waits for the shop
                self.trouble = str(failure)
                pause_s = _AWAY_S[min(silent, len(_AWAY_S) - 1)]
                silent += 1
            if last_time:
                break
            self._stop.wait(pause_s)
        if line is not None:
            with suppress(Exception):
                line.close()


def send_by_hand(store: Path, url: str) -> int:
    """Send all that is there; raises ShopAway, ShopRefused, JournalError."""
    line = Line(store, url)
    try:
        return line.send_all()
    finally:
        line.close()
