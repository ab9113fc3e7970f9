"""The ledger: entries, attachments, and the book's own name."""

from collections.abc import Iterable

import sqlalchemy as sa
from alembic import op

from leanwright.book.migrations.guards import (
    postgresql_guards,
    sqlite_guards,
    sqlite_once_guard,
    sqlite_order_guard,
)

revision = "0001"
down_revision: str | None = None


def upgrade() -> None:
    """Make the tables and what guards them."""
    whole = sa.Integer().with_variant(sa.BigInteger(), "postgresql")
    op.create_table(
        "meta",
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("value", sa.Text, nullable=False),
        sqlite_strict=True,
    )
    op.create_table(
        "entries",
        sa.Column("sequence", whole, primary_key=True, autoincrement=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.Column("previous", sa.Text, nullable=False, unique=True),
        sa.Column("hash", sa.Text, nullable=False),
        sa.Column("request_key", sa.Text, nullable=False, unique=True),
        sa.Column("supersedes", whole),
        sqlite_strict=True,
    )
    some = sa.text("supersedes IS NOT NULL")
    op.create_index(
        "entries_supersedes", "entries", ["supersedes"], unique=True, sqlite_where=some, postgresql_where=some
    )
    op.create_table(
        "attachments",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
        sqlite_strict=True,
    )
    guard(("meta", "entries", "attachments"), {"entries": ("previous", "request_key", "supersedes")})
    if op.get_bind().dialect.name == "sqlite":
        for table, column in (("meta", "name"), ("attachments", "sha256")):
            op.execute(sqlite_once_guard(table, column)[1])


def guard(tables: tuple[str, ...], numbered: dict[str, Iterable[str]]) -> None:
    """Refuse changes of written rows."""
    if op.get_bind().dialect.name == "sqlite":
        for _, text in sqlite_guards(tables):
            op.execute(text)
        for table, others in numbered.items():
            op.execute(sqlite_order_guard(table, others)[1])
        return
    for text in postgresql_guards(tables):
        op.execute(text)
