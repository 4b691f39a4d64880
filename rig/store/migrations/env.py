"""Runs the migrations on the connection that `rig.store.migrating` hands over, inside its transaction."""

from alembic import context

from rig.store.schema import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
