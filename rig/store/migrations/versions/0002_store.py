"""The store: a bench's account numbered without a gap, sealed, with what is found quickly beside it."""

from datetime import UTC, datetime
from platform import node
from uuid import uuid4

import sqlalchemy as sa
from alembic import op

from rig.store.guards import guards

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the tables, take over what version 1 held, and put up the guards.

    What is read out of the entries, and the seals, are made afterwards (`rig.store.migrating`).
    """
    on_bench = op.get_context().dialect.name == "sqlite"
    if on_bench:
        op.rename_table("entry", "journal")
    else:
        op.drop_table("entry")  # version 1 was never kept there
    _make_tables()
    if on_bench:
        _take_over()
        op.drop_table("journal")
    for guard in guards(op.get_context().dialect.name):
        op.execute(guard)


def _take_over() -> None:
    connection = op.get_bind()
    if not connection.scalar(sa.text("SELECT count(*) FROM journal")):
        return
    new = {"uuid": str(uuid4()), "name": node(), "utc": datetime.now(UTC).isoformat(timespec="seconds")}
    connection.execute(
        sa.text("INSERT INTO bench (id, uuid, name, made_utc) VALUES (1, :uuid, :name, :utc)"), new
    )
    op.execute(
        "INSERT INTO run (bench, name, begun_utc, first) SELECT 1, j.run, j.utc, j.place FROM (SELECT run, utc, id, "
        "row_number() OVER (ORDER BY id) AS place, row_number() OVER (PARTITION BY run ORDER BY id) AS of_run "
        "FROM journal) j WHERE j.of_run = 1 ORDER BY j.id"
    )
    op.execute(
        "INSERT INTO entry (bench, number, run, in_run, at_ns, utc, order_number, serial, kind, body) "
        "SELECT 1, row_number() OVER (ORDER BY j.id), r.id, j.number, j.at_ns, j.utc, j.order_number, j.serial, "
        "j.kind, j.body FROM journal j JOIN run r ON r.name = j.run ORDER BY j.id"
    )


def _make_tables() -> None:
    op.create_table(
        "bench",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("uuid", sa.Text(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("made_utc", sa.Text(), nullable=False),
        sa.Column("forwarded", sa.BigInteger(), server_default="0", nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("uuid"),
    )
    op.create_table(
        "content",
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("sha256"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "correction",
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("corrects", sa.BigInteger(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("utc", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.PrimaryKeyConstraint("bench", "number"),
    )
    op.create_index("correction_by_corrected", "correction", ["bench", "corrects"])
    op.create_table(
        "document",
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("sha256", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("order_number", sa.Text(), nullable=False),
        sa.Column("utc", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.PrimaryKeyConstraint("bench", "number"),
    )
    op.create_index("document_by_order", "document", ["order_number"])
    op.create_index("document_by_serial", "document", ["serial"])
    op.create_table(
        "person",
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("first_utc", sa.Text(), nullable=False),
        sa.Column("last_utc", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.PrimaryKeyConstraint("bench", "name"),
    )
    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("begun_utc", sa.Text(), nullable=False),
        sa.Column("first", sa.BigInteger(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("bench", "name"),
    )
    op.create_table(
        "seal",
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("last", sa.BigInteger(), nullable=False),
        sa.Column("first", sa.BigInteger(), nullable=False),
        sa.Column("sha256", sa.LargeBinary(), nullable=False),
        sa.Column("parts", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.PrimaryKeyConstraint("bench", "last"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "attempt",
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("first", sa.BigInteger(), nullable=False),
        sa.Column("last", sa.BigInteger(), nullable=False),
        sa.Column("run", sa.Integer(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("order_number", sa.Text(), nullable=False),
        sa.Column("customer", sa.Text(), nullable=False),
        sa.Column("sensor_type", sa.Text(), nullable=False),
        sa.Column("purpose", sa.Text(), nullable=False),
        sa.Column("setting", sa.Text(), nullable=False),
        sa.Column("rig", sa.Text(), nullable=False),
        sa.Column("rig_sha256", sa.Text(), nullable=False),
        sa.Column("software", sa.Text(), nullable=False),
        sa.Column("simulated", sa.SmallInteger(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("began_utc", sa.Text(), nullable=False),
        sa.Column("began_ns", sa.BigInteger(), nullable=False),
        sa.Column("ended_utc", sa.Text(), nullable=True),
        sa.Column("seconds", sa.Float(), nullable=True),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("superseded", sa.SmallInteger(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.ForeignKeyConstraint(["run"], ["run.id"]),
        sa.PrimaryKeyConstraint("bench", "first"),
        sqlite_with_rowid=False,
    )
    op.create_index("attempt_by_customer", "attempt", ["customer", "began_utc"])
    op.create_index("attempt_by_order", "attempt", ["order_number", "began_utc"])
    op.create_index("attempt_by_run", "attempt", ["run", "serial", "first"])
    op.create_index("attempt_by_serial", "attempt", ["serial", "began_utc"])
    op.create_index("attempt_by_time", "attempt", ["began_utc"])
    op.create_table(
        "entry",
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("run", sa.Integer(), nullable=False),
        sa.Column("in_run", sa.Integer(), nullable=False),
        sa.Column("at_ns", sa.BigInteger(), nullable=False),
        sa.Column("utc", sa.Text(), nullable=False),
        sa.Column("order_number", sa.Text(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.ForeignKeyConstraint(["run"], ["run.id"]),
        sa.PrimaryKeyConstraint("bench", "number"),
        sqlite_with_rowid=False,
    )
    op.create_table(
        "shop_order",
        sa.Column("run", sa.Integer(), nullable=False),
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("first", sa.BigInteger(), nullable=False),
        sa.Column("last", sa.BigInteger(), nullable=False),
        sa.Column("number", sa.Text(), nullable=False),
        sa.Column("customer", sa.Text(), nullable=False),
        sa.Column("purpose", sa.Text(), nullable=False),
        sa.Column("sensor_type", sa.Text(), nullable=False),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("rig", sa.Text(), nullable=False),
        sa.Column("simulated", sa.SmallInteger(), nullable=False),
        sa.Column("software", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("setting", sa.Text(), nullable=False),
        sa.Column("order_sha256", sa.Text(), nullable=False),
        sa.Column("type_sha256", sa.Text(), nullable=False),
        sa.Column("rig_sha256", sa.Text(), nullable=False),
        sa.Column("begun_utc", sa.Text(), nullable=False),
        sa.Column("ended_utc", sa.Text(), nullable=True),
        sa.Column("left_over", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.ForeignKeyConstraint(["run"], ["run.id"]),
        sa.PrimaryKeyConstraint("run"),
    )
    op.create_index("shop_order_by_number", "shop_order", ["number"])
