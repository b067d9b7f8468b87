"""Runs the migrations on the connection, and inside the transaction, that `database.py` hands over."""

from __future__ import annotations

from alembic import context

from colophony.records.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
