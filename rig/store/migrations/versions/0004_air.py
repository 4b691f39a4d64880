"""The air in which a unit got its verdict."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the columns; they are filled when what is read out of the entries is made anew afterwards."""
    op.add_column("attempt", sa.Column("air_c", sa.Float()))
    op.add_column("attempt", sa.Column("air_humidity_percent", sa.Float()))
