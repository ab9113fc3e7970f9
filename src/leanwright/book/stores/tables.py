"""The tables of the book and the statements on them, one text for both databases."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from operator import itemgetter
from typing import Any, Final

import sqlalchemy as sa

FIRST_FORMAT: Final = "1"
metadata: Final = sa.MetaData()
Whole: Final = sa.Integer().with_variant(sa.BigInteger(), "postgresql")
META: Final = sa.Table(
    "meta",
    metadata,
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("value", sa.Text, nullable=False),
)
ENTRIES: Final = sa.Table(
    "entries",
    metadata,
    sa.Column("sequence", Whole, primary_key=True, autoincrement=False),
    sa.Column("data", sa.LargeBinary, nullable=False),
    sa.Column("previous", sa.Text, nullable=False, unique=True),
    sa.Column("hash", sa.Text, nullable=False),
    sa.Column("request_key", sa.Text, nullable=False, unique=True),
    sa.Column("supersedes", Whole),
)
ATTACHMENTS: Final = sa.Table(
    "attachments",
    metadata,
    sa.Column("sha256", sa.Text, primary_key=True),
    sa.Column("content", sa.LargeBinary, nullable=False),
)
EVENTS: Final = sa.Table(
    "events",
    metadata,
    sa.Column("sequence", Whole, primary_key=True, autoincrement=False),
    sa.Column("data", sa.LargeBinary, nullable=False),
    sa.Column("previous", sa.Text, nullable=False, unique=True),
    sa.Column("hash", sa.Text, nullable=False),
)
LEDGER_TABLES: Final = (META, ENTRIES, ATTACHMENTS, EVENTS)
_ROW: Final = (ENTRIES.c.sequence, ENTRIES.c.data, ENTRIES.c.previous, ENTRIES.c.hash)
_LAST: Final = sa.select(*_ROW).order_by(ENTRIES.c.sequence.desc()).limit(1)
_FULL: Final = (*_ROW, ENTRIES.c.request_key, ENTRIES.c.supersedes)
CHUNK: Final = 1000
_IN_PARTS: Final = {"yield_per": CHUNK}
_AFTER: Final = (
    sa.select(*_ROW)
    .where(ENTRIES.c.sequence > sa.bindparam("after"))
    .order_by(ENTRIES.c.sequence)
    .execution_options(**_IN_PARTS)
)
_ALL: Final = sa.select(*_FULL).order_by(ENTRIES.c.sequence).execution_options(**_IN_PARTS)
_ONE: Final = sa.select(*_ROW).where(ENTRIES.c.sequence == sa.bindparam("number"))
_BEFORE: Final = sa.select(*_ROW, ENTRIES.c.request_key).where(
    sa.or_(
        ENTRIES.c.sequence == sa.select(sa.func.max(ENTRIES.c.sequence)).scalar_subquery(),
        ENTRIES.c.request_key == sa.bindparam("key"),
    )
)
_INSERT: Final = sa.insert(ENTRIES)
_LAST_EVENT: Final = sa.select(EVENTS.c.sequence, EVENTS.c.hash).order_by(EVENTS.c.sequence.desc()).limit(1)

Row = Sequence[Any]


def ledger_of(connection: sa.Connection) -> str | None:
    """The book's own name; ``None`` while it is being made."""
    found = connection.execute(sa.select(META.c.value).where(META.c.name == "ledger")).scalar()
    return None if found is None else str(found)


def last(connection: sa.Connection) -> Row | None:
    """The newest entry: sequence, bytes, previous, hash."""
    return connection.execute(_LAST).first()


def rows(connection: sa.Connection, after: int = 0) -> Iterator[Row]:
    """Sequence, bytes, previous and hash of every entry after one, in their order, a part at a time.

    Whoever stops early lets go of them, and the database's own cursor closes.
    """
    with connection.execute(_AFTER, {"after": after}) as found:
        yield from found


def full_rows(connection: sa.Connection) -> Iterator[Row]:
    """The same with the columns that only help to find entries: request key, and the entry superseded."""
    with connection.execute(_ALL) as found:
        yield from found


def row(connection: sa.Connection, sequence: int) -> Row | None:
    """One entry."""
    return connection.execute(_ONE, {"number": sequence}).first()


@lru_cache(maxsize=16)
def _compiled(dialect: sa.Dialect, statement: Any) -> tuple[str, Sequence[str], dict[str, Any]]:
    """The text of a statement, the order of its values where they go by place, and values that are fixed.

    The two statements that every entry needs are compiled once: building them anew takes as long as a quick disk's flush.
    """
    made = statement.compile(dialect=dialect)
    return str(made), tuple(made.positiontup or ()), dict(made.params)


def _quickly(connection: sa.Connection, statement: Any, values: dict[str, Any]) -> Any:
    """Run one of the two statements that every entry needs, on a file by the driver itself: its errors are told too."""
    text, order, fixed = _compiled(connection.dialect, statement)
    if order:
        return connection.connection.cursor().execute(
            text, tuple(values[name] if name in values else fixed[name] for name in order)
        )
    return connection.exec_driver_sql(text, {**fixed, **values})


def before(connection: sa.Connection, key: str) -> tuple[Row | None, Row | None]:
    """The newest entry, and the one that was written for a request, if it was."""
    found = list(_quickly(connection, _BEFORE, {"key": key}))
    newest = max(found, key=itemgetter(0), default=None)
    return newest, next((one for one in found if one[4] == key), None)


def superseding(connection: sa.Connection) -> dict[int, int]:
    """For each superseded entry the one that supersedes it."""
    found = connection.execute(
        sa.select(ENTRIES.c.supersedes, ENTRIES.c.sequence).where(ENTRIES.c.supersedes.is_not(None))
    )
    return {int(old): int(new) for old, new in found}


def insert(connection: sa.Connection, made: list[dict[str, Any]]) -> None:
    """Insert entries; the values are those of the columns."""
    if len(made) > 1:
        connection.execute(_INSERT, made)
        return
    _quickly(connection, _INSERT, made[0])


def has_attachment(connection: sa.Connection, sha256: str) -> bool:
    """Whether the content of a digest is kept."""
    wanted = sa.select(ATTACHMENTS.c.sha256).where(ATTACHMENTS.c.sha256 == sha256)
    return connection.execute(wanted).first() is not None


def attachment(connection: sa.Connection, sha256: str) -> bytes | None:
    """The content of a digest."""
    found = connection.execute(
        sa.select(ATTACHMENTS.c.content).where(ATTACHMENTS.c.sha256 == sha256)
    ).scalar()
    return None if found is None else bytes(found)


def attachment_digests(connection: sa.Connection) -> list[str]:
    """The digests of all contents."""
    return [
        str(one)
        for one in connection.execute(
            sa.select(ATTACHMENTS.c.sha256).order_by(ATTACHMENTS.c.sha256)
        ).scalars()
    ]


def keep_attachment(connection: sa.Connection, sha256: str, content: bytes) -> None:
    """Keep a content under its digest."""
    if not has_attachment(connection, sha256):
        connection.execute(sa.insert(ATTACHMENTS), [{"sha256": sha256, "content": content}])


def last_event(connection: sa.Connection) -> Row | None:
    """Sequence and hash of the newest event."""
    return connection.execute(_LAST_EVENT).first()


def events(connection: sa.Connection) -> list[Row]:
    """All events: sequence, bytes, previous, hash; none in a book of the first form, which had no table of them."""
    if not sa.inspect(connection).has_table(EVENTS.name):
        return []
    wanted = sa.select(EVENTS.c.sequence, EVENTS.c.data, EVENTS.c.previous, EVENTS.c.hash)
    return list(connection.execute(wanted.order_by(EVENTS.c.sequence)))


def insert_event(connection: sa.Connection, values: dict[str, Any]) -> None:
    """Insert an event."""
    connection.execute(sa.insert(EVENTS), [values])


def drop(connection: sa.Connection) -> None:
    """Take the tables away; only for a book in which nothing was written."""
    for name in (*(table.name for table in LEDGER_TABLES), "alembic_version"):
        connection.exec_driver_sql(f"DROP TABLE {name}")
