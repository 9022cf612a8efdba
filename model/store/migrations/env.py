"""How Alembic runs the migrations: on the connection it is handed, inside its transaction."""

from alembic import context

connection = context.config.attributes["connection"]
# One transaction for all: a store is of the old version or the new, never between.
context.configure(connection=connection, transaction_per_migration=False, transactional_ddl=True)
context.run_migrations()
