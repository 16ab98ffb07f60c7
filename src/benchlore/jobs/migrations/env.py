"""What Alembic runs: the upgrade on the connection, and in the transaction, that the store hands over."""

from alembic import context

from benchlore.jobs.migrations import VERSION_TABLE

context.configure(
    connection=context.config.attributes["connection"], version_table=VERSION_TABLE, render_as_batch=True
)
with context.begin_transaction():
    context.run_migrations()
