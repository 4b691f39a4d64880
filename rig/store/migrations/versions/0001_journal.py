"""The first journal: a table of events for each run."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the table as version 1 had it."""
    op.create_table(
        "entry",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("run", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("at_ns", sa.Integer, nullable=False),
        sa.Column("utc", sa.Text, nullable=False),
        sa.Column("order_number", sa.Text, nullable=False),
        sa.Column("serial", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.UniqueConstraint("run", "number"),
    )
    op.create_index("entry_by_serial", "entry", ["serial", "id"])
