"""Runs the steps on the connection that `plafond.storage.archive.migrate` hands in.

There is no other way in: no file of settings, no address of a database.
"""

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    transactional_ddl=True,
    transaction_per_migration=False,
)
with context.begin_transaction():
    context.run_migrations()
