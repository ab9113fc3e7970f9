"""Every way that SQL has to change or delete a row in its place, for each table of the book and each of its columns."""

from leanwright.book.stores import tables
from leanwright.book.stores.sqlite import SqliteStore
from leanwright.book.stores.store import Store

A_TABLE = ("DELETE FROM {table}", "DELETE FROM {table} WHERE {key} IN (SELECT {key} FROM {table})")
A_COLUMN = (
    "UPDATE {table} SET {column} = {column}",
    "INSERT INTO {table} SELECT * FROM {table} WHERE true ON CONFLICT ({key}) DO UPDATE SET {column} = excluded.{column}",
)
A_TABLE_OF_A_FILE = (
    "INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
    "REPLACE INTO {table} (rowid, {columns}) SELECT {table}.rowid, {columns} FROM {table}",
    "UPDATE OR REPLACE {table} SET {key} = {key}",
)
A_TABLE_OF_A_SHOP = (
    "TRUNCATE {table}",
    "TRUNCATE {table} CASCADE",
    "WITH gone AS (DELETE FROM {table} RETURNING *) INSERT INTO {table} SELECT * FROM gone",
)


def ways(store: Store) -> list[str]:
    """The statements, in the words of the store's own database."""
    own = A_TABLE_OF_A_FILE if isinstance(store, SqliteStore) else A_TABLE_OF_A_SHOP
    found = []
    for table in tables.LEDGER_TABLES:
        names = [column.name for column in table.columns]
        words = {"table": table.name, "key": names[0], "columns": ", ".join(names)}
        found += [way.format(**words) for way in (*A_TABLE, *own)]
        found += [way.format(**words, column=name) for name in names for way in A_COLUMN]
    return found
