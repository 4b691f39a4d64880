"""Makes anew what is read out of the entries, and seals what is not sealed yet."""

from __future__ import annotations

from collections.abc import Iterator

from rig.store.database import Database
from rig.store.projection import ENTRY_COLUMNS, Entry, project
from rig.store.sealing import CLOSING, seal_up_to

READ_OUT = ("lot_entry", "decision", "correction", "document", "person", "attempt", "shop_order")
"""The tables that hold nothing that is not in the entries."""

_AT_ONCE = 5000
_NEXT = (
    f"SELECT {', '.join(ENTRY_COLUMNS)} FROM entry WHERE bench = :bench AND number > :after "
    "ORDER BY number LIMIT :most"
)
_CLOSING = (
    "SELECT bench, number FROM entry "
    "WHERE number > coalesce((SELECT max(last) FROM seal s WHERE s.bench = entry.bench), 0) "
    f"AND kind IN ({', '.join(repr(kind) for kind in sorted(CLOSING))}) ORDER BY bench, number"
)


def replay(database: Database) -> None:
    """Go through the whole account once more, in the transaction of the caller."""
    for table in READ_OUT:
        database.run(f"DELETE FROM {table}")
    for part in parts(database):
        for statement, values in project(part):
            database.run(statement, values)
    for bench, number in list(database.rows(_CLOSING)):
        seal_up_to(database, bench, number)


def parts(database: Database) -> Iterator[list[Entry]]:
    """Yield the whole account, bench by bench, some thousand entries at a time."""
    for (bench,) in list(database.rows("SELECT id FROM bench ORDER BY id")):
        after = 0
        while part := [
            Entry(*row) for row in database.rows(_NEXT, {"bench": bench, "after": after, "most": _AT_ONCE})
        ]:
            yield part
            after = part[-1].number
