"""Alembic's environment: runs the migrations on the connection that `schema` hands over."""

from alembic import context

from service.database.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
    transactional_ddl=False,
)
with context.begin_transaction():
    context.run_migrations()
