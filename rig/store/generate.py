"""Writes out what a new store on a bench is made with, from `schema.py`: `python -m rig.store.generate`.

A bench makes its store from this file, without loading SQLAlchemy; only an older store is brought up to date by the
migrations, and the tests hold the two to each other.
"""

from __future__ import annotations

from pathlib import Path

from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy.dialects import sqlite
from sqlalchemy.schema import CreateIndex, CreateTable

from rig.store.guards import guards
from rig.store.schema import metadata

FILE = Path(__file__).with_name("new_store.sql")


def generated() -> str:
    """The statements, each ended by a line that holds only a semicolon."""
    dialect = sqlite.dialect()
    statements = []
    for table in metadata.sorted_tables:
        statements.append(str(CreateTable(table).compile(dialect=dialect)).strip())
        statements += [
            str(CreateIndex(index).compile(dialect=dialect)) for index in sorted(table.indexes, key=str)
        ]
    statements += guards("sqlite")
    statements.append(
        "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL, "
        "CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num))"
    )
    statements.append(f"INSERT INTO alembic_version (version_num) VALUES ('{newest()}')")
    return "".join(f"{statement}\n;\n" for statement in statements)


def newest() -> str:
    """The migration that the tables of this program are at."""
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    head = ScriptDirectory.from_config(config).get_current_head()
    assert head is not None
    return head


if __name__ == "__main__":
    FILE.write_text(generated(), encoding="utf-8")
