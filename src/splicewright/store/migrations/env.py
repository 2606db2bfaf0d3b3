"""Run by Alembic: migrate over the connection that `opening.migrate` gives."""

from alembic import context

connection = context.config.attributes["connection"]
context.configure(connection=connection, render_as_batch=True, transaction_per_migration=False)
context.run_migrations()
