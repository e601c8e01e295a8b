"""Where Alembic enters: runs the revisions on the connection it is handed, inside that one's transaction."""

from __future__ import annotations

from alembic import context

attributes = context.config.attributes
context.configure(
    connection=attributes["connection"],
    target_metadata=attributes.get("metadata"),
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
