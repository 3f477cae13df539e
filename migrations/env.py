"""Alembic's door: runs the migrations on the connection that refuge.store.upgrade hands over."""

from alembic import context

from refuge.store.hidden import is_ours
from refuge.store.schema import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    include_object=is_ours,
)
with context.begin_transaction():
    context.run_migrations()
