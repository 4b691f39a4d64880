"""What SQLite and PostgreSQL say differently when something is to be found quickly."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Boolean, ColumnElement
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

_ESCAPE = "\\"


class Unindexed(FunctionElement[Any]):
    """A column that is not to be looked up in an index, since a better one is at hand.

    SQLite keeps no statistics here to choose by; PostgreSQL has its own, and is left to them.
    """

    name = "unindexed"
    inherit_cache = True

    def __init__(self, column: ColumnElement[Any]) -> None:
        super().__init__(column)
        self.type = column.type


@compiles(Unindexed)
def _as_it_is(element: Unindexed, compiler: SQLCompiler, **how: Any) -> str:
    return compiler.process(element.clauses, **how)


@compiles(Unindexed, "sqlite")
def _with_plus(element: Unindexed, compiler: SQLCompiler, **how: Any) -> str:
    return f"+{compiler.process(element.clauses, **how)}"


class _Like(FunctionElement[bool]):
    """A column and a pattern, compared without regard to case."""

    name = "like_ignoring_case"
    type = Boolean()
    inherit_cache = True


@compiles(_Like)
def _ilike(element: _Like, compiler: SQLCompiler, **how: Any) -> str:
    return _compared("ILIKE", element, compiler, how)


@compiles(_Like, "sqlite")
def _like(element: _Like, compiler: SQLCompiler, **how: Any) -> str:
    # LIKE itself ignores the case of ASCII letters there; lower() on a million rows would take twice as long.
    return _compared("LIKE", element, compiler, how)


def _compared(operator: str, element: _Like, compiler: SQLCompiler, how: dict[str, Any]) -> str:
    column, pattern = (compiler.process(one, **how) for one in element.clauses)
    return f"{column} {operator} {pattern} ESCAPE '{_ESCAPE}'"


def contains(column: ColumnElement[str], part: str) -> ColumnElement[bool]:
    """Whether a column holds a text somewhere, in whatever case; nothing in the text stands for anything else."""
    for sign in (_ESCAPE, "%", "_"):
        part = part.replace(sign, _ESCAPE + sign)
    return _Like(column, f"%{part}%")
