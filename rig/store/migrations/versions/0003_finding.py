"""What two persons decide by hand, and units found by reason, type and verdict."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the table and the indexes; what is read out of the entries is made anew afterwards."""
    op.create_table(
        "decision",
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("of_bench", sa.SmallInteger(), nullable=False),
        sa.Column("attempt", sa.BigInteger(), nullable=False),
        sa.Column("serial", sa.Text(), nullable=False),
        sa.Column("order_number", sa.Text(), nullable=False),
        sa.Column("verdict", sa.Text(), nullable=False),
        sa.Column("person", sa.Text(), nullable=False),
        sa.Column("released_by", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("utc", sa.Text(), nullable=False),
        sa.Column("stands", sa.SmallInteger(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.PrimaryKeyConstraint("bench", "number"),
    )
    op.create_index("decision_by_attempt", "decision", ["of_bench", "attempt"])
    op.create_index("decision_by_serial", "decision", ["serial"])
    op.create_index("attempt_by_reason", "attempt", ["reason", "began_utc"])
    op.create_index("attempt_by_type", "attempt", ["sensor_type", "began_utc"])
    op.create_index("attempt_by_verdict", "attempt", ["verdict", "began_utc"])
    op.drop_index("attempt_by_serial", "attempt")
    op.create_index("attempt_by_serial", "attempt", ["serial", "began_utc", "superseded"])
