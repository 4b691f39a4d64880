"""`python -m tests.kills --kills 1000` kills a bench so many times and prints the tally.

`--power` cuts its power instead of killing it; `--shop` has it forward to a PostgreSQL meanwhile.
"""

from __future__ import annotations

import argparse
import os
import random
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import create_engine, make_url, text

from rig.store.audit import audit
from rig.store.database import SqliteDatabase
from rig.store.forwarding import send_by_hand
from rig.store.opening import reading
from rig.store.outbox import URL_VARIABLE
from rig.store.shop import ShopDatabase
from tests.kills.network import Network, network
from tests.kills.study import Study, Tally
from tests.postgres import server

_ENTRIES = (
    "SELECT e.number, e.in_run, e.at_ns, e.utc, e.order_number, e.serial, e.kind, e.body FROM entry e "
    "JOIN bench b ON b.id = e.bench WHERE b.uuid = :uuid ORDER BY e.number"
)
_SEALS = (
    "SELECT s.last, s.sha256 FROM seal s JOIN bench b ON b.id = s.bench WHERE b.uuid = :uuid ORDER BY s.last"
)


def main() -> int:
    """Run the study; 1 if anything was lost, doubled, falsely good or not clean."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--shop", action="store_true", help="with PostgreSQL, its network cut and mended meanwhile"
    )
    parser.add_argument(
        "--power", action="store_true", help="lose what was not synchronised too, as when the power is cut"
    )
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kills-") as folder:
        study = _with_shop if options.shop else _alone
        tally = study(Path(folder), options.kills, options.seed, power=options.power)
    print("\n".join(tally.lines()))
    return 1 if tally.broken else 0


def _alone(folder: Path, kills: int, seed: int, *, power: bool) -> Tally:
    return Study(folder, seed, power=power).run(kills)


def _with_shop(folder: Path, kills: int, seed: int, *, power: bool) -> Tally:
    with server() as postgres, postgres.database("kills") as url, _through(url) as (line, cut_url):
        os.environ[URL_VARIABLE] = cut_url
        study = Study(folder, seed, _cutting(line), power=power)

        def compare(data: Path) -> None:
            line.say("mend")
            study.tally.broken += _differences(data / "journal.sqlite3", url)

        tally = study.run(kills, compare)
        tally.broken += _of_shop(url)
        return tally


@contextmanager
def _through(url: str) -> Iterator[tuple[Network, str]]:
    there = make_url(url)
    with network(str(there.host), int(there.port or 5432)) as line:
        yield line, there.set(drivername="postgresql", port=line.port).render_as_string(hide_password=False)


def _cutting(line: Network) -> Callable[[random.Random], int]:
    def cut_or_mend(draw: random.Random) -> int:
        word = draw.choice(("cut", "mend", "mend"))
        line.say(word)
        return word == "cut"

    return cut_or_mend


def _differences(journal: Path, url: str) -> list[str]:
    """What the shop holds once all is sent, against what the bench holds."""
    send_by_hand(journal, url)
    engine = create_engine(url)
    with reading(journal) as database, engine.connect() as connection:
        ((uuid,),) = database.execute("SELECT uuid FROM bench").fetchall()
        here = [tuple(row) for row in database.execute(_ENTRIES, {"uuid": uuid})]
        there = [tuple(row) for row in connection.execute(text(_ENTRIES), {"uuid": uuid})]
        seals = [
            [tuple(row) for row in one.rows(_SEALS, {"uuid": uuid})]
            for one in (SqliteDatabase(database), ShopDatabase(connection))
        ]
    engine.dispose()
    found = []
    if here != there:
        found.append(f"{journal}: the shop holds {len(there)} entries, the bench {len(here)}")
    if [(last, bytes(seal)) for last, seal in seals[0]] != [(last, bytes(seal)) for last, seal in seals[1]]:
        found.append(f"{journal}: the shop holds other seals than the bench")
    return found


def _of_shop(url: str) -> list[str]:
    """Whether the shop's database, with the accounts of every bench of the study, holds against its seals."""
    engine = create_engine(url)
    with engine.connect() as connection:
        found = audit(ShopDatabase(connection))
    engine.dispose()
    return [] if found.broken is None else [f"the shop: {found.broken}"]


if __name__ == "__main__":
    raise SystemExit(main())
