"""Events: what was done with the book as a whole, chained as the entries are."""

import sqlalchemy as sa
from alembic import op

from leanwright.book.migrations.versions.v0001_ledger import guard

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the table of events."""
    op.create_table(
        "events",
        sa.Column(
            "sequence",
            sa.Integer().with_variant(sa.BigInteger(), "postgresql"),
            primary_key=True,
            autoincrement=False,
        ),
        sa.Column("data", sa.LargeBinary, nullable=False),
        sa.Column("previous", sa.Text, nullable=False, unique=True),
        sa.Column("hash", sa.Text, nullable=False),
        sqlite_strict=True,
    )
    guard(("events",), {"events": ("previous",)})
