"""What Alembic runs: on the connection it is handed, or printing SQL when it is handed none."""

from __future__ import annotations

from alembic import context

from stallkeep.store.tables import metadata

connection = context.config.attributes.get("connection")
if connection is None:
    context.configure(dialect_name="postgresql", literal_binds=True, target_metadata=metadata)
else:
    context.configure(connection=connection, target_metadata=metadata)
with context.begin_transaction():
    context.run_migrations()
