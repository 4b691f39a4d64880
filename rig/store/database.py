"""The narrow way to a database: SQL with :named values, which SQLite and PostgreSQL both understand.

On a bench it is `sqlite3` itself, so that a run loads nothing else; statements stay within what both databases know.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Protocol

Values = Mapping[str, Any]
Statement = tuple[str, Values]


class Database(Protocol):
    """An open database in the middle of a transaction, or one to read from."""

    def rows(self, question: str, values: Values | None = None, /) -> Iterable[Sequence[Any]]:
        """What a question yields, row by row."""

    def run(self, statement: str, values: Values | None = None, /) -> None:
        """Do one statement."""

    def run_many(self, statement: str, values: Sequence[Values], /) -> None:
        """Do one statement for each set of values."""


class SqliteDatabase:
    """`Database` over a `sqlite3` connection."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection

    def rows(self, question: str, values: Values | None = None, /) -> Iterable[Sequence[Any]]:
        """What a question yields, row by row."""
        return self.connection.execute(question, values or {})

    def run(self, statement: str, values: Values | None = None, /) -> None:
        """Do one statement."""
        self.connection.execute(statement, values or {})

    def run_many(self, statement: str, values: Sequence[Values], /) -> None:
        """Do one statement for each set of values."""
        self.connection.executemany(statement, values)


def first_row(database: Database, question: str, values: Values | None = None) -> Sequence[Any] | None:
    """The first row of an answer, None if there is none."""
    return next(iter(database.rows(question, values)), None)
