"""The air in which a unit got its verdict, and units found by person, bench and purpose."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add them; what is read out of the entries is made anew afterwards."""
    op.add_column("attempt", sa.Column("air_c", sa.Float()))
    op.add_column("attempt", sa.Column("air_humidity_percent", sa.Float()))
    for one in ("person", "bench", "purpose"):
        op.create_index(f"attempt_by_{one}", "attempt", [one, "began_utc"])
