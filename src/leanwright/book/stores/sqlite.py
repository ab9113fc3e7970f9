"""The book in one file: SQLite, in a mode in which a saved entry stays saved."""

import errno
import os
import random
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final
from urllib.parse import quote

import sqlalchemy as sa

from leanwright.book.migrations import guards
from leanwright.book.stores import places
from leanwright.book.stores.modes import DELETE_EXTRA, Mode, Version, mode_for, pragmas
from leanwright.book.stores.queue import FairQueue
from leanwright.errors import BusyBookError, DamagedBookError, UnusableBookError, UnwritableBookError
from leanwright.told import Told

MAGIC: Final = b"SQLite format 3\x00"
BUSY_S: Final = 10.0
BEGINS_BYTES: Final = 65_536
"""What the first one that opens a book in WAL mode may put beside its file: the index of its log, which takes half of this,
and a few pages where the file is new."""
_NO_ROOM: Final = Told("The disk is full; free some room, then save again")
_FULL: Final = ("database or disk is full", "disk full")
_DAMAGED: Final = ("malformed", "not a database", "file is encrypted", "unsupported file format")
_LOCKED: Final = ("locked", "busy")
_UNWRITABLE: Final = ("readonly", "read-only", "unable to open")


def library() -> Any:
    """The one copy of SQLite that this process uses: the newer one where its wheel is installed."""
    try:
        import pysqlite3.dbapi2 as newer
    except ImportError:
        return sqlite3
    return newer


ONLY_READ: Final = Told("It can only be read here: the file or its folder cannot be written.")
"""The note of a book in a place that may not be written."""


class SqliteStore:
    """A book in an SQLite file. Use :func:`open_file` or :func:`make_file`."""

    def __init__(
        self,
        file: Path,
        dbapi: Any,
        mode: Mode,
        *,
        read_only: bool,
        notes: tuple[str, ...],
        writable: bool = True,
        cut_short: bool = False,
    ) -> None:
        self.file = file
        self.writable = writable
        self.cut_short = cut_short
        self.mode = mode
        self.read_only = read_only
        self.notes = notes
        self._dbapi = dbapi
        self._queue = FairQueue()
        self._stopped = ""
        self._writer: sa.Connection | None = None
        self._asking: Any = None
        self._process = os.getpid()
        self._engine = sa.create_engine(
            "sqlite://", module=dbapi, creator=self._connect, poolclass=sa.NullPool
        )
        sa.event.listen(self._engine, "begin", self._begin)

    @property
    def place(self) -> str:
        """The file's name."""
        return str(self.file)

    @contextmanager
    def writing(self) -> Iterator[sa.Connection]:
        """The transaction of the one writer; raises before it begins if the book cannot be written."""
        if self.read_only:
            raise UnwritableBookError(self.place, Told("It is open for reading only"))
        if self._stopped:
            raise UnwritableBookError(
                self.place, Told("Writing stopped after a failed flush ({reason})", reason=self._stopped)
            )
        self._same_process()
        with self._queue.turn():
            if self._writer is None:
                self._can_begin()
                with self._told():
                    self._writer = self._engine.connect().execution_options(writing=True)
            connection = self._writer
            try:
                with self._told(), connection.begin():
                    yield connection
            except BaseException:
                self._let_go_unfinished(connection)
                raise

    def _let_go_unfinished(self, connection: sa.Connection) -> None:
        """Close the writer's connection where a failure, such as too little memory, left it in its transaction.

        SQLite takes that back, and the next save opens another; a refused entry leaves nothing unfinished.
        """
        raw: Any = None if connection.invalidated else connection.connection.dbapi_connection
        if connection.in_transaction() or raw is None or raw.in_transaction:
            self._writer = None
            connection.invalidate()
            connection.close()

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """A transaction that sees one moment."""
        self._same_process()
        with self._told(), self._engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def migrating(self) -> Iterator[sa.Connection]:
        """A connection whose next transaction is that of a writer."""
        if self.read_only:
            raise UnwritableBookError(self.place, "It is of an older form and open for reading only")
        self._can_begin()
        with self._queue.turn(), self._told(), self._engine.connect() as connection:
            yield connection.execution_options(writing=True)

    def problems(self) -> list[str]:
        """SQLite's own check, and guards that somebody took away."""
        with self.reading() as connection:
            found = [str(one) for one in connection.exec_driver_sql("PRAGMA integrity_check(20)").scalars()]
            kept: dict[str, str] = {
                str(name): str(text)
                for name, text in connection.exec_driver_sql(
                    "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
                )
            }
            tables = set(
                connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'table'").scalars()
            )
        missing: list[str] = [
            Told("the guard {name} is missing or changed", name=name)
            for name, text in _guards(tables)
            if kept.get(name) != text
        ]
        return [Told("the database says: {words}", words=one) for one in found if one != "ok"] + missing

    def copy_to(self, place: Path) -> None:
        """A copy by SQLite's own online method, private and durable; it gets its name only when it is whole."""
        handle, name = tempfile.mkstemp(dir=place.parent, prefix=f".{place.name[:40]}-")
        os.close(handle)
        part = Path(name)
        try:
            self._copy_into(part)
            part.replace(place)
        finally:
            part.unlink(missing_ok=True)
        places.flush_folder(place.parent)

    def _copy_into(self, part: Path) -> None:
        with self.reading() as connection:
            source = connection.connection.dbapi_connection
            target = self._dbapi.connect(str(part), isolation_level=None)
            try:
                target.execute("PRAGMA synchronous = EXTRA")
                assert source is not None  # noqa: S101  a connection that is open has one
                source.backup(target)
            finally:
                target.close()

    def close(self) -> None:
        """Let go of the file; the last one that does tidies the log away."""
        if self._writer is not None:
            with suppress(sa.exc.DBAPIError):
                self._writer.close()
            self._writer = None
        self._engine.dispose()

    def _same_process(self) -> None:
        if os.getpid() != self._process:
            raise UnwritableBookError(
                self.place, "It was opened before this process was split off; open it again"
            )

    def _connect(self) -> Any:
        writable = self.writable and not self._lacks_room() and not self._lacks_right()
        name, how = quote(str(self.file)), "mode=rw" if writable else f"mode=ro{self._immutable()}"
        connection = self._dbapi.connect(
            f"file:{name}?{how}", uri=True, isolation_level=None, check_same_thread=False
        )
        try:
            self._set_up(connection, writable=writable)
        except BaseException:
            connection.close()
            raise
        return connection

    def _immutable(self) -> str:
        """Where no log is and none can be made, nobody writes: SQLite may read the file as one that never changes."""
        log = self.file.with_name(f"{self.file.name}-wal")
        can_be_made = os.access(self.file.parent, os.W_OK) and not self._lacks_room()
        return "" if can_be_made or log.exists() else "&immutable=1"

    def _lacks_room(self) -> bool:
        """Whether the disk is so full that nobody can begin to use a book in WAL mode, not even to read it."""
        index = self.file.with_name(f"{self.file.name}-shm")
        begins = self.mode.journal == "wal" and not index.exists()
        return begins and shutil.disk_usage(self.file.parent).free < BEGINS_BYTES

    def _lacks_right(self) -> bool:
        """Whether the right to write, which was there when the book was opened, was taken away."""
        return self.writable and self.file.exists() and not _may_write(self.file)

    def _can_begin(self) -> None:
        if self._lacks_room():
            raise UnwritableBookError(self.place, _NO_ROOM)
        if self._lacks_right():
            reason = os.strerror(errno.EACCES)
            raise UnwritableBookError(self.place, Told("It cannot be written ({reason})", reason=reason))

    def _set_up(self, connection: Any, *, writable: bool) -> None:
        if self.cut_short:
            # SQLite opens a file that is shorter than its first page says only with this setting; nothing is written.
            connection.execute("PRAGMA writable_schema = ON")
        for name, value, wanted in pragmas(self.mode, busy_ms=int(BUSY_S * 1000)):
            if not writable and name == "journal_mode":
                continue
            answer = connection.execute(f"PRAGMA {name} = {value}").fetchone()
            if name != "journal_mode":
                answer = connection.execute(f"PRAGMA {name}").fetchone()
            if wanted is not None and (answer is None or answer[0] != wanted):
                raise UnusableBookError(
                    self.place,
                    Told(
                        "SQLite does not take {name} = {value} (it says {answer!r})",
                        name=name,
                        value=value,
                        answer=answer[0] if answer else "",
                    ),
                    "Close other programs that hold the book, then try again.",
                )

    def _begin(self, connection: sa.Connection) -> None:
        raw = connection.connection.dbapi_connection
        assert raw is not None  # noqa: S101  a connection that begins has one
        if not connection.get_execution_options().get("writing"):
            raw.cursor().execute("BEGIN")
            return
        self._begin_writing(raw)

    def _begin_writing(self, raw: Any) -> None:
        """Wait for the write lock by asking at random moments: SQLite's own waiting lets newcomers pass."""
        started = time.monotonic()
        if raw is not self._asking:
            raw.execute("PRAGMA busy_timeout = 0")
            self._asking = raw
        try:
            while True:
                try:
                    raw.execute("BEGIN IMMEDIATE")
                except self._dbapi.OperationalError as error:
                    waited = time.monotonic() - started
                    if not _says(error, _LOCKED):
                        raise
                    if waited > BUSY_S:
                        raise BusyBookError(self.place, waited) from error
                    time.sleep(random.uniform(0.0005, 0.004))  # noqa: S311  a pause, no secret
                else:
                    return
        finally:
            # With a rollback journal a save has to wait for readers, and SQLite's own waiting does that; in WAL mode
            # readers are never in the way.
            if self.mode.journal != "wal":
                raw.execute(f"PRAGMA busy_timeout = {int(BUSY_S * 1000)}")
                self._asking = None

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Turn the database's errors into sentences."""
        try:
            yield
        except (sa.exc.DBAPIError, self._dbapi.Error) as error:
            cause = error.orig if isinstance(error, sa.exc.DBAPIError) else error
            raise self._error(cause) from error
        except UnicodeDecodeError as error:
            raise DamagedBookError(
                self.place,
                Told("It is damaged ({reason})", reason=error.reason),
                Told("See what can be saved: leanwright book recover."),
            ) from error

    def _error(self, cause: Any) -> Exception:
        words = str(cause)
        if _says(cause, _FULL):
            return UnwritableBookError(self.place, _NO_ROOM)
        if _says(cause, _DAMAGED):
            return DamagedBookError(
                self.place,
                Told("It is damaged ({reason})", reason=words),
                Told("See what can be saved: leanwright book recover."),
            )
        if _says(cause, _UNWRITABLE):
            return UnwritableBookError(self.place, Told("It cannot be written ({reason})", reason=words))
        if _says(cause, _LOCKED):
            return BusyBookError(self.place, BUSY_S)
        if _says(cause, ("I/O error",)):
            self._stopped = words
            return UnwritableBookError(
                self.place, Told("The disk failed ({words}); no more is written until a restart", words=words)
            )
        if _says(cause, (guards.WORDS,)):
            return UnwritableBookError(self.place, "The book is append-only")
        return DamagedBookError(
            self.place,
            Told("The database says: {words}", words=words),
            Told("Check it: leanwright book verify."),
        )


def _says(error: object, words: tuple[str, ...]) -> bool:
    return any(word in str(error) for word in words)


def _guards(tables: set[str]) -> list[tuple[str, str]]:
    """The guards that the tables of a book have to have."""
    wanted = [*guards.sqlite_guards(("meta", "entries", "attachments"))]
    wanted.append(guards.sqlite_order_guard("entries", ("previous", "request_key", "supersedes")))
    wanted += [guards.sqlite_once_guard(*one) for one in (("meta", "name"), ("attachments", "sha256"))]
    if "events" in tables:
        wanted += [*guards.sqlite_guards(("events",)), guards.sqlite_order_guard("events", ("previous",))]
    return wanted


def open_file(
    file: Path,
    *,
    dbapi: Any = None,
    version: Version | None = None,
    read_only: bool = False,
    cut_short: bool = False,
) -> SqliteStore:
    """Open the file of a book that is there; with ``cut_short`` one of which the end may be missing, to save the rest.

    Raises :class:`UnusableBookError` for a place, a file or a library that cannot hold a book.
    """
    file = file.absolute()
    if not file.exists() and not file.is_symlink():
        raise UnusableBookError(str(file), Told("There is no book"), Told("Make one: leanwright book init."))
    places.check_place(file)
    _check_kind(file)
    dbapi = dbapi or library()
    mode = _mode(file, version or dbapi.sqlite_version_info)
    notes = [_slow_note(dbapi)] if mode == DELETE_EXTRA else []
    unwritable = not _may_write(file)
    if unwritable:
        notes.append(ONLY_READ)
    return SqliteStore(
        file,
        dbapi,
        mode,
        read_only=read_only or unwritable,
        notes=tuple(notes),
        writable=not unwritable,
        cut_short=cut_short,
    )


def _may_write(file: Path) -> bool:
    """Whether the file and its folder, where its log stands, may be written."""
    may = os.access(file, os.W_OK) and os.access(file.parent, os.W_OK)
    return may and not places.mounted_read_only(file)


def make_file(file: Path, *, dbapi: Any = None, version: Version | None = None) -> SqliteStore:
    """Make the empty file of a new book; it is never made over another file."""
    file = file.absolute()
    if file.exists() or file.is_symlink():
        raise UnusableBookError(str(file), Told("There is something already"), Told("Name another place."))
    dbapi = dbapi or library()
    mode = _mode(file, version or dbapi.sqlite_version_info)
    try:
        places.check_place(file)
        places.make_file(file)
    except OSError as error:
        raise UnusableBookError(
            str(file),
            Told("It cannot be made ({reason})", reason=error.strerror),
            Told("Name a place that you may write to."),
        ) from error
    notes = (_slow_note(dbapi),) if mode == DELETE_EXTRA else ()
    return SqliteStore(file, dbapi, mode, read_only=False, notes=notes)


def check_whole(file: Path) -> None:
    """Raise :class:`OSError` where a part of a book that everybody let go of lies in a log beside its file.

    The last one that lets go puts the log into the file; if that fails, the database keeps the log and tells nobody.
    """
    if any(file.with_name(f"{file.name}-{log}").exists() for log in ("wal", "journal")):
        raise OSError(errno.EIO, os.strerror(errno.EIO))


def _slow_note(dbapi: Any) -> str:
    return Told(
        "SQLite {version} here has a fault in its faster mode; the slower, unaffected one is used.",
        version=dbapi.sqlite_version,
    )


def _mode(file: Path, version: Version) -> Mode:
    mode = mode_for(version)
    if mode is None:
        raise UnusableBookError(
            str(file),
            Told("SQLite {version} is too old to keep a book", version=".".join(map(str, version))),
            "Install a newer one.",
        )
    return mode


def _check_kind(file: Path) -> None:
    try:
        with file.open("rb") as stream:
            start = stream.read(len(MAGIC))
    except OSError as error:
        raise UnusableBookError(
            str(file),
            Told("It cannot be opened ({reason})", reason=error.strerror),
            Told("Check its rights."),
        ) from error
    if start != MAGIC:
        raise UnusableBookError(
            str(file), Told("This is not a book but a file of another kind"), Told("Name the book's file.")
        )
