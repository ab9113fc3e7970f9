"""Run by Alembic: one migration on the connection that was handed over, in one transaction with its number."""

from alembic import context

from leanwright.book.stores.postgresql import LOCK

connection = context.config.attributes["connection"]
context.configure(connection=connection, transactional_ddl=True)
with context.begin_transaction():
    if connection.dialect.name == "postgresql":
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({LOCK})")
    context.run_migrations()
