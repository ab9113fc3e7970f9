"""The book in PostgreSQL: one lock a book, roles apart, and no save that is not flushed."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final
from urllib.parse import parse_qs, urlsplit

import sqlalchemy as sa

from leanwright.book.stores.store import UnknownOutcomeError
from leanwright.book.stores.tables import LEDGER_TABLES
from leanwright.errors import BusyBookError, DamagedBookError, UnusableBookError, UnwritableBookError
from leanwright.told import Told

SCHEMES: Final = ("postgresql", "postgres")
LOCK: Final = 0x6C65616E77726967
"""Key of the advisory lock: the first letters of the program's name as a number."""
LOCK_WAIT_MS: Final = 10_000
STATEMENT_MS: Final = 120_000
_SESSION: Final = {
    "statement_timeout": STATEMENT_MS,
    "lock_timeout": LOCK_WAIT_MS,
    "synchronous_commit": "on",
}
_MUST: Final = {"fsync": "on", "full_page_writes": "on"}
_LOCAL: Final = ("", "localhost", "127.0.0.1", "::1")


def is_address(place: str) -> bool:
    """Whether a place is the address of a database."""
    return place.partition("://")[0] in SCHEMES and "://" in place


class PostgresqlStore:
    """A book in a PostgreSQL database."""

    def __init__(self, address: str) -> None:
        self._shown = _checked_address(address)
        self._notes: list[str] = []
        self._engine = sa.create_engine(
            _engine_url(address),
            isolation_level="READ COMMITTED",
            pool_size=4,
            max_overflow=12,
            connect_args={"connect_timeout": 10, "client_encoding": "UTF8"},
        )
        sa.event.listen(self._engine, "connect", _set_up)
        with self._told(), self._engine.connect() as connection:
            self._check_settings(connection)

    @property
    def place(self) -> str:
        """The address, without what should not be shown."""
        return self._shown

    @property
    def notes(self) -> tuple[str, ...]:
        """What is worth knowing about how the database is set up."""
        return tuple(self._notes)

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """The transaction of the one writer: the lock is the book's, and goes with the transaction."""
        saved = False
        try:
            with self._told(), self._engine.connect() as connection, connection.begin():
                connection.execute(sa.text("SELECT pg_advisory_xact_lock(:key)"), {"key": LOCK})
                yield connection
                saved = True
        except _LostError as error:
            if saved:
                raise UnknownOutcomeError from error
            raise UnwritableBookError(self.place, "The database is not there any more") from error

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A transaction that sees one moment."""
        try:
            with self._told(), self._engine.connect() as connection:
                options = {
                    "isolation_level": "REPEATABLE READ",
                    "postgresql_readonly": True,
                    "stream_results": True,
                }
                with connection.execution_options(**options).begin():
                    yield connection
        except _LostError as error:
            raise UnusableBookError(
                self.place, "The database is not there any more", "Start it again."
            ) from error

    @contextmanager
    def migrating(self) -> Iterator[sa.Connection]:
        """A connection; the migration takes the book's lock itself."""
        with self._told(), self._engine.connect() as connection:
            yield connection

    def problems(self) -> list[str]:
        """Guards that are missing. What the pages hold is checked by walking the entries."""
        with self.reading() as connection:
            there = sa.inspect(connection).get_table_names()
            wanted = {table.name for table in LEDGER_TABLES if table.name in there}
            found = set(
                connection.execute(
                    sa.text(
                        "SELECT c.relname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
                        "JOIN pg_namespace n ON n.oid = c.relnamespace "
                        "WHERE n.nspname = current_schema() AND NOT t.tgisinternal AND t.tgenabled = 'O' "
                        "AND t.tgname = c.relname || '_no_change'"
                    )
                ).scalars()
            )
        return [
            Told("the guard of the table {table} is missing", table=name) for name in sorted(wanted - found)
        ]

    def grant(self, role: str) -> None:
        """Let a role read and add, and nothing else."""
        quoted = self._engine.dialect.identifier_preparer.quote(role)
        with self.writing() as connection:
            for table in LEDGER_TABLES:
                connection.exec_driver_sql(f"REVOKE ALL ON {table.name} FROM PUBLIC")
                connection.exec_driver_sql(f"GRANT SELECT, INSERT ON {table.name} TO {quoted}")
            connection.exec_driver_sql(f"GRANT SELECT ON alembic_version TO {quoted}")
            schema = connection.exec_driver_sql("SELECT current_schema()").scalar_one()
            quoted_schema = self._engine.dialect.identifier_preparer.quote(schema)
            connection.exec_driver_sql(f"GRANT USAGE ON SCHEMA {quoted_schema} TO {quoted}")

    def close(self) -> None:
        """Let go of all connections."""
        self._engine.dispose()

    def _check_settings(self, connection: sa.Connection) -> None:
        for name, wanted in _MUST.items():
            value = connection.exec_driver_sql(f"SHOW {name}").scalar()
            if value != wanted:
                raise UnusableBookError(
                    self.place,
                    Told("The database runs with {name} = {value}", name=name, value=value),
                    Told("Set {name} = {wanted}: entries could be lost.", name=name, wanted=wanted),
                )
        if connection.exec_driver_sql("SHOW data_checksums").scalar() != "on":
            self._notes.append(
                Told("The database keeps no checksums of its pages; they are advised (initdb -k).")
            )
        owns = connection.execute(
            sa.text(
                "SELECT pg_get_userbyid(relowner) = current_user FROM pg_class "
                "WHERE relname = 'entries' AND relnamespace = current_schema()::regnamespace"
            )
        ).scalar()
        if owns:
            self._notes.append(
                Told("This role owns the tables; use one that may only read and add (book init --writer).")
            )

    @contextmanager
    def _told(self) -> Iterator[None]:
        try:
            yield
        except sa.exc.DBAPIError as error:
            raise self._error(error) from error

    def _error(self, error: sa.exc.DBAPIError) -> Exception:
        state = getattr(error.orig, "sqlstate", None) or ""
        words = " ".join(str(error.orig).split())
        if error.connection_invalidated or state[:2] in {"57", "08"} or not state:
            return _LostError(
                self.place,
                Told("The database cannot be reached ({words})", words=words),
                "Start it, or check the address.",
            )
        if state == "55P03":
            return BusyBookError(self.place, LOCK_WAIT_MS / 1000)
        if state == "53100":
            return UnwritableBookError(self.place, Told("The disk is full; free some room, then save again"))
        if state in {"42501", "25006"} or "append-only" in words:
            return UnwritableBookError(self.place, Told("The database refuses it ({words})", words=words))
        return DamagedBookError(
            self.place,
            Told("The database says: {words}", words=words),
            Told("Check it: leanwright book verify."),
        )


def _set_up(connection: Any, _record: object) -> None:
    """Settings of every connection, whatever the server's own are."""
    connection.autocommit = True
    for name, value in _SESSION.items():
        connection.execute(f"SET {name} = {value}")
    connection.autocommit = False


class _LostError(UnusableBookError):
    """The connection is gone."""


def _engine_url(address: str) -> str:
    return "postgresql+psycopg://" + address.partition("://")[2]


def _checked_address(address: str) -> str:
    """The address as it may be shown; raises for one that holds a password or goes over the network unprotected."""
    try:
        import psycopg
    except ImportError as error:
        raise UnusableBookError(
            "PostgreSQL", "Its driver is not installed", 'Install it: pip install "leanwright[shop]".'
        ) from error
    del psycopg
    parts = urlsplit(address)
    options = parse_qs(parts.query)
    if parts.password is not None or "password" in options:
        raise UnusableBookError(
            f"{parts.scheme}://{parts.hostname or ''}{parts.path}",
            "The address holds a password, which other users of the machine can read",
            "Put it into the password file of PostgreSQL.",
        )
    host = (parts.hostname or options.get("host", [""])[0]) or ""
    local = host in _LOCAL or host.startswith(("/", "%2F"))
    if not local and options.get("sslmode") != ["verify-full"]:
        raise UnusableBookError(
            address,
            "The database is on another machine and its certificate is not checked",
            "Add ?sslmode=verify-full.",
        )
    return address


def open_address(address: str, **_nothing: Any) -> PostgresqlStore:
    """Open the database at an address; raises :class:`UnusableBookError` if it cannot be used."""
    return PostgresqlStore(address)
