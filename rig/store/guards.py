"""What keeps the account from being changed: triggers that refuse, as far as a database can."""

from __future__ import annotations

from collections.abc import Iterator

KEPT = ("entry", "seal", "run", "content")
"""Tables whose rows are never changed and never taken out."""

_WORDS = "nothing in the record is changed or taken out; a correction is a new entry"
_GAP = "an entry must follow on its bench''s last one"


def guards(dialect: str) -> Iterator[str]:
    """Yield the statements that make the guards of one database."""
    yield from _sqlite() if dialect == "sqlite" else _postgresql()


def _sqlite() -> Iterator[str]:
    for table in KEPT:
        for deed in ("UPDATE", "DELETE"):
            yield (
                f"CREATE TRIGGER {table}_no_{deed.lower()} BEFORE {deed} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{_WORDS}'); END"
            )
    yield (
        "CREATE TRIGGER entry_follows BEFORE INSERT ON entry WHEN NEW.number <> "
        "(SELECT coalesce(max(number), 0) + 1 FROM entry WHERE bench = NEW.bench) "
        f"BEGIN SELECT RAISE(ABORT, '{_GAP}'); END"
    )


def _postgresql() -> Iterator[str]:
    yield (
        "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_WORDS}'; END $$"
    )
    yield (
        "CREATE FUNCTION must_follow() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "IF NEW.number <> (SELECT coalesce(max(number), 0) + 1 FROM entry WHERE bench = NEW.bench) "
        f"THEN RAISE EXCEPTION '{_GAP}'; END IF; RETURN NEW; END $$"
    )
    for table in KEPT:
        yield (
            f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )
        yield (
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()"
        )
    yield "CREATE TRIGGER entry_follows BEFORE INSERT ON entry FOR EACH ROW EXECUTE FUNCTION must_follow()"
