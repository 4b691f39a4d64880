"""How a store of an earlier version becomes one of this version; run by alembic when it is opened."""
