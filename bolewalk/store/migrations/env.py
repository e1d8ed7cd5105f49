"""Runs the steps on the connection the store gives, inside its transaction."""

from alembic import context

from bolewalk.store.schema import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    transactional_ddl=True,
)
context.run_migrations()
