"""Lots that were delivered."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add where the entries of lots stand; it is read out of them afterwards."""
    op.create_table(
        "lot_entry",
        sa.Column("bench", sa.SmallInteger(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("lot", sa.Text(), nullable=False),
        sa.Column("kind", sa.Text(), nullable=False),
        sa.Column("supplier", sa.Text(), nullable=False),
        sa.Column("sensor_type", sa.Text(), nullable=False),
        sa.Column("utc", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["bench"], ["bench.id"]),
        sa.PrimaryKeyConstraint("bench", "number"),
    )
    op.create_index("lot_entry_by_lot", "lot_entry", ["lot", "utc"])
    op.create_index("lot_entry_by_supplier", "lot_entry", ["supplier", "sensor_type", "utc"])
