"""What Alembic runs: the migrations on the connection it was handed, in that connection's transaction."""

from alembic import context

from service.store.tables import Row

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Row.metadata,
    transactional_ddl=True,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
