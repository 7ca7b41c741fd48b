"""How Alembic runs the migrations: on the connection that the store hands it."""

from alembic import context

from bedstone.store.schema import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    render_as_batch=True,
)
context.run_migrations()
