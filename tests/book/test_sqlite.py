"""How a book speaks with SQLite, whole: statement by statement, and every refusal of the file in its words."""

import itertools
import os
import re
import sqlite3
import threading
from pathlib import Path
from typing import Any

import pytest

from leanwright.book import schema
from leanwright.book.entry import Author
from leanwright.book.ledger import Draft, Ledger, make, open_ledger
from leanwright.book.stores import modes, places, sqlite
from leanwright.errors import (
    BusyBookError,
    DamagedBookError,
    LeanwrightError,
    UnusableBookError,
    UnwritableBookError,
)
from tests.book.conftest import NAME, Desk, SetClock

RECOVER = "See what can be saved: leanwright book recover."
KEPT = "Nothing was saved; what is in the book can still be read."
WAL, DELETE = (3, 51, 3), (3, 51, 2)


class Listening:
    """The library, and everything that is said to it."""

    def __init__(self) -> None:
        self.opened: list[tuple[str, dict[str, Any]]] = []
        self.said: list[str] = []

    def __getattr__(self, name: str) -> Any:
        """What is not listened to."""
        return getattr(sqlite3, name)

    def connect(self, name: str, **options: Any) -> sqlite3.Connection:
        """Open a connection that tells its statements."""
        self.opened.append((name, options))
        connection: sqlite3.Connection = sqlite3.connect(name, **options)
        connection.set_trace_callback(self._hear)
        return connection

    def _hear(self, statement: str) -> None:
        self.said.append(" ".join(statement.split()))

    def heard(self) -> list[str]:
        """What was said since the last time; of a question or an insertion its first words."""
        said, self.said = self.said, []
        first = "PRAGMA read_uncommitted"  # which the library of statements asks once of each database
        short = [re.sub(r"^(SELECT|INSERT INTO \w+).*", r"\1", one) for one in said if one != first]
        return [one for one, _again_by_its_trigger in itertools.groupby(short)]


def settings(journal: str, synchronous: str, busy_ms: int = 10_000) -> list[str]:
    """What is said to each new connection: each setting is read back but the first two, which answer at once."""
    each = {
        "busy_timeout": busy_ms, "journal_mode": journal, "synchronous": synchronous, "foreign_keys": "ON",
        "trusted_schema": "OFF", "cell_size_check": "ON", "mmap_size": 0, "recursive_triggers": "ON", "fullfsync": "ON",
        "checkpoint_fullfsync": "ON",
    }  # fmt: skip
    return [
        said
        for name, value in each.items()
        for said in (f"PRAGMA {name} = {value}", f"PRAGMA {name}")[: 1 if name == "journal_mode" else 2]
    ]


OPTIONS = {"uri": True, "isolation_level": None, "check_same_thread": False}
ADDED = ["BEGIN IMMEDIATE", "SELECT", "INSERT INTO entries", "COMMIT"]


def noted(book: Ledger, key: str) -> None:
    """Add a note."""
    book.append(Draft("note", {"text": key}, Author(name="Ada", identified_by="typed"), key))


def test_what_is_said_to_sqlite_in_the_quick_mode(quick: Path) -> None:
    make(sqlite.make_file(quick / "a b.sqlite"), NAME, SetClock(), "t").close()
    library = Listening()
    store = sqlite.open_file(quick / "a b.sqlite", dbapi=library, version=WAL)
    assert (store.place, store.notes, store.mode) == (str(quick / "a b.sqlite"), (), modes.WAL_FULL)
    book = open_ledger(store, SetClock(), "t")
    assert library.opened == [(f"file:{quick}/a%20b.sqlite?mode=rw", OPTIONS)]
    assert library.heard() == [*settings("WAL", "FULL"), "BEGIN", "SELECT", "COMMIT"]
    noted(book, "first")
    # The writer's connection stays, and asks for the lock itself.
    assert library.heard() == [*settings("WAL", "FULL"), "PRAGMA busy_timeout = 0", *ADDED]
    noted(book, "second")
    assert library.heard() == ADDED
    assert len(library.opened) == 2
    with store.reading():
        pass
    assert library.heard() == [*settings("WAL", "FULL"), "BEGIN", "COMMIT"]
    book.close()
    book.close()
    with store.writing():
        pass
    assert library.heard()[-2:] == ["BEGIN IMMEDIATE", "COMMIT"]
    store.close()


def test_what_is_said_to_sqlite_in_the_slower_mode(quick: Path) -> None:
    make(sqlite.make_file(quick / "book.sqlite"), NAME, SetClock(), "t").close()
    library = Listening()
    store = sqlite.open_file(quick / "book.sqlite", dbapi=library, version=DELETE)
    note = f"SQLite {sqlite3.sqlite_version} here has a fault in its faster mode; the slower, unaffected one is used."
    assert (store.notes, store.mode) == ((note,), modes.DELETE_EXTRA)
    book = open_ledger(store, SetClock(), "t")
    library.heard()
    for key in ("first", "second"):
        noted(book, key)
    waits = ["PRAGMA busy_timeout = 0", "BEGIN IMMEDIATE", "PRAGMA busy_timeout = 10000"]
    assert library.heard() == [*settings("DELETE", "EXTRA"), *waits, *ADDED[1:], *waits, *ADDED[1:]]
    book.close()


def test_the_settings_of_each_mode() -> None:
    assert [(one.journal, one.synchronous, one.level) for one in (modes.WAL_FULL, modes.DELETE_EXTRA)] == [
        ("wal", "FULL", 2),
        ("delete", "EXTRA", 3),
    ]
    # SQLite's own list of pragmas: what each answers when it is read back; memory that is mapped answers where it can be.
    answers = {
        "busy_timeout": 7,
        "journal_mode": "delete",
        "synchronous": 3,
        "trusted_schema": 0,
        "mmap_size": None,
    }
    found = modes.pragmas(modes.DELETE_EXTRA, busy_ms=7)
    assert {name: wanted for name, _, wanted in found} == {name: answers.get(name, 1) for name, _, _ in found}
    assert modes.pragmas(modes.WAL_FULL)[0] == ("busy_timeout", 10_000, 10_000)


class Deaf(Listening):
    """A library that takes one setting no more: it answers something else, or nothing."""

    def __init__(self, name: str, answer: str) -> None:
        super().__init__()
        self.name = name
        self.answer = answer

    def connect(self, name: str, **options: Any) -> Any:
        """Open a connection that does not listen."""
        whole, deaf = super().connect(name, **options), self

        class Answering:
            def execute(self, statement: str) -> Any:
                return whole.execute(
                    deaf.answer if statement.startswith(f"PRAGMA {deaf.name}") else statement
                )

            def close(self) -> None:
                deaf.said.append("closed")
                whole.close()

        return Answering()


@pytest.mark.parametrize(
    ("name", "answer", "said"),
    [
        ("synchronous", "SELECT 1", "synchronous = FULL (it says 1)"),
        ("journal_mode", "SELECT 'memory'", "journal_mode = WAL (it says 'memory')"),
        ("foreign_keys", "SELECT 1 WHERE 0", "foreign_keys = ON (it says '')"),
    ],
)
def test_a_setting_that_is_not_taken_is_told(quick: Path, name: str, answer: str, said: str) -> None:
    make(sqlite.make_file(quick / "book.sqlite"), NAME, SetClock(), "t").close()
    library = Deaf(name, answer)
    store = sqlite.open_file(quick / "book.sqlite", dbapi=library, version=WAL)
    with pytest.raises(UnusableBookError) as caught, store.reading():
        pass
    place = quick / "book.sqlite"
    assert (
        str(caught.value)
        == f"{place}: SQLite does not take {said}. Close other programs that hold the book, then try again."
    )
    assert library.said[-1] == "closed"


SAID = [
    ("database or disk is full", UnwritableBookError, f"The disk is full; free some room, then save again. {KEPT}"),
    ("disk full", UnwritableBookError, f"The disk is full; free some room, then save again. {KEPT}"),
    *(
        (words, DamagedBookError, f"It is damaged ({words}). {RECOVER}")
        for words in ("database disk image is malformed", "file is not a database", "file is encrypted", "unsupported file format")
    ),
    *(
        (words, UnwritableBookError, f"It cannot be written ({words}). {KEPT}")
        for words in ("attempt to write a readonly database", "read-only file system", "unable to open database file")
    ),
    *(
        (f"database is {one}", BusyBookError, "another program has been writing for 10 seconds. Nothing was saved; try again.")
        for one in ("locked", "busy")
    ),
    ("the book is append-only", UnwritableBookError, f"The book is append-only. {KEPT}"),
    ("no such table: x", DamagedBookError, "The database says: no such table: x. Check it: leanwright book verify."),
]  # fmt: skip


@pytest.mark.parametrize(("words", "kind", "sentence"), SAID)
def test_what_sqlite_says_becomes_a_sentence(
    quick_desk: Desk, words: str, kind: type[LeanwrightError], sentence: str
) -> None:
    store = quick_desk.book.store
    with pytest.raises(kind) as caught, store.reading():
        raise sqlite.library().OperationalError(words)
    assert str(caught.value) == f"{store.place}: {sentence}"
    assert type(caught.value) is kind
    quick_desk.add("note", {"text": "a"})


def test_after_a_failed_flush_nothing_is_written_any_more(quick_desk: Desk) -> None:
    store = quick_desk.book.store
    with pytest.raises(UnwritableBookError) as caught, store.writing():
        raise sqlite.library().OperationalError("disk I/O error")
    place = store.place
    assert (
        str(caught.value)
        == f"{place}: The disk failed (disk I/O error); no more is written until a restart. {KEPT}"
    )
    with pytest.raises(UnwritableBookError) as caught, store.writing():
        pass
    assert str(caught.value) == f"{place}: Writing stopped after a failed flush (disk I/O error). {KEPT}"
    assert quick_desk.bodies() == []


def test_bytes_that_are_no_text_are_damage(quick_desk: Desk) -> None:
    with pytest.raises(DamagedBookError) as caught, quick_desk.book.store.reading():
        b"\xff".decode()
    assert (
        str(caught.value) == f"{quick_desk.book.store.place}: It is damaged (invalid start byte). {RECOVER}"
    )


def refused(action: Any) -> str:
    """Why a file is refused."""
    with pytest.raises(LeanwrightError) as caught:
        action()
    return str(caught.value)


def test_why_a_file_is_no_book(quick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = quick / "book.sqlite"

    def opened() -> str:
        return refused(lambda: sqlite.open_file(place))

    assert opened() == f"{place}: There is no book. Make one: leanwright book init."
    for content in (b"", b"SQLite format 3", b"SQLite format 2\x00" + bytes(100)):
        place.write_bytes(content)
        place.chmod(0o600)
        assert opened() == f"{place}: This is not a book but a file of another kind. Name the book's file."
    assert (
        refused(lambda: sqlite.make_file(place))
        == f"{place}: There is something already. Name another place."
    )
    place.write_bytes(sqlite.MAGIC)
    assert (
        refused(lambda: sqlite.open_file(place, version=(3, 36, 9)))
        == f"{place}: SQLite 3.36.9 is too old to keep a book. Install a newer one."
    )

    def closed(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", closed)
        assert opened() == f"{place}: It cannot be opened (Permission denied). Check its rights."
    place.unlink()
    place.symlink_to(quick / "nowhere")
    assert opened() == f"{place}: It is a link. Name the file itself."
    assert (
        refused(lambda: sqlite.make_file(place))
        == f"{place}: There is something already. Name another place."
    )
    place.unlink()
    assert refused(lambda: sqlite.make_file(place, version=(3, 36, 0))).endswith(
        "SQLite 3.36.0 is too old to keep a book. Install a newer one."
    )
    monkeypatch.setattr(places, "make_file", closed)
    assert (
        refused(lambda: sqlite.make_file(place))
        == f"{place}: It cannot be made (Permission denied). Name a place that you may write to."
    )
    assert not place.exists()


def test_a_new_file_tells_of_the_slower_mode_too(quick: Path) -> None:
    store = sqlite.make_file(quick / "book.sqlite", dbapi=sqlite3, version=DELETE)
    assert (len(store.notes), store.read_only, store.writable, store.cut_short) == (1, False, True, False)
    store.close()
    store = sqlite.make_file(quick / "other.sqlite", dbapi=sqlite3, version=WAL)
    assert (store.notes, store.mode) == ((), modes.WAL_FULL)
    store.close()


def test_a_book_in_a_folder_that_cannot_be_written_is_read_as_it_lies(
    quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # An administrator may write everywhere, so the system's answer is put in its place.
    desk = Desk(make(sqlite.make_file(quick / "book.sqlite"), NAME, SetClock(), "t"), SetClock())
    desk.add("note", {"text": "a"})
    desk.book.close()
    library = Listening()
    for closed, name in (
        ({"book.sqlite", quick.name}, "?mode=ro&immutable=1"),
        ({quick.name}, "?mode=ro&immutable=1"),
        ({"book.sqlite"}, "?mode=ro"),
    ):
        with monkeypatch.context() as patch:
            patch.setattr(
                os,
                "access",
                lambda place, right, closed=closed: not (right == os.W_OK and Path(place).name in closed),
            )
            store = sqlite.open_file(quick / "book.sqlite", dbapi=library, version=WAL)
            assert (store.notes, store.read_only, store.writable) == ((sqlite.ONLY_READ,), True, False)
            with store.reading():
                pass
            assert library.opened[-1][0] == f"file:{quick}/book.sqlite{name}"
            assert library.heard() == [
                *(one for one in settings("WAL", "FULL") if "journal" not in one),
                "BEGIN",
                "COMMIT",
            ]
            assert refused(store.writing().__enter__) == f"{store.place}: It is open for reading only. {KEPT}"
            told = f"{store.place}: It is of an older form and open for reading only. {KEPT}"
            assert refused(store.migrating().__enter__) == told
            store.close()
    # Where a writer's log lies beside the file, it is not taken for one that nobody changes.
    (quick / "book.sqlite-wal").touch()
    monkeypatch.setattr(os, "access", lambda _place, right: right != os.W_OK)
    store = sqlite.open_file(quick / "book.sqlite", dbapi=library, version=WAL)
    assert store._immutable() == ""
    store.close()


def test_a_process_that_was_split_off_opens_the_book_anew(
    quick_desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = quick_desk.book.store
    monkeypatch.setattr(os, "getpid", lambda: -1)
    told = f"{store.place}: It was opened before this process was split off; open it again. {KEPT}"
    assert refused(store.writing().__enter__) == told
    assert refused(store.reading().__enter__) == told


def test_a_copy_is_the_book_and_leaves_nothing_beside_it(quick_desk: Desk, quick: Path) -> None:
    quick_desk.add("note", {"text": "a"})
    store = quick_desk.book.store
    assert isinstance(store, sqlite.SqliteStore)
    first = schema.copy_before(store, "0001")
    second = schema.copy_before(store, "0001")
    third = schema.copy_before(store, "0001")
    assert [one and one.name for one in (first, second, third)] == [
        "book.sqlite.form-0001", "book.sqlite.form-0001-2", "book.sqlite.form-0001-3",
    ]  # fmt: skip
    assert first is not None
    assert first.stat().st_mode & 0o777 == 0o600
    copied = open_ledger(sqlite.open_file(first), SetClock(), "t")
    assert (copied.head(), list(copied.entries())) == (
        quick_desk.book.head(),
        list(quick_desk.book.entries()),
    )
    copied.close()
    assert not [one for one in quick.iterdir() if one.name.startswith(".")]


def test_a_file_that_is_cut_short_is_opened_for_saving_only(quick: Path) -> None:
    make(sqlite.make_file(quick / "book.sqlite"), NAME, SetClock(), "t").close()
    library = Listening()
    store = sqlite.open_file(
        quick / "book.sqlite", dbapi=library, version=WAL, read_only=True, cut_short=True
    )
    assert (store.read_only, store.writable, store.cut_short) == (True, True, True)
    with store.reading():
        pass
    assert library.heard() == ["PRAGMA writable_schema = ON", *settings("WAL", "FULL"), "BEGIN", "COMMIT"]
    store.close()


def test_missing_guards_and_what_sqlite_finds_are_told(quick_desk: Desk) -> None:
    store = quick_desk.book.store
    with store.writing() as connection:
        names = (
            connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type = 'trigger'")
            .scalars()
            .all()
        )
        for name in names:
            connection.exec_driver_sql(f"DROP TRIGGER {name}")
    assert sorted(store.problems()) == sorted(f"the guard {name} is missing or changed" for name in names)
    with store.writing() as connection:
        connection.exec_driver_sql("CREATE TRIGGER meta_no_update BEFORE UPDATE ON meta BEGIN SELECT 1; END")
        connection.exec_driver_sql("DROP TABLE events")
    told = store.problems()
    assert "the guard meta_no_update is missing or changed" in told
    assert not any("events" in one for one in told)


def test_a_writer_that_waits_too_long_gives_up(quick_desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite, "BUSY_S", 0.05)
    place = quick_desk.book.store.place
    other = sqlite.library().connect(place, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    told = refused(lambda: quick_desk.add("note", {"text": "a"}))
    assert told == f"{place}: another program has been writing for 0 seconds. Nothing was saved; try again."
    other.execute("ROLLBACK")
    other.close()
    assert quick_desk.add("note", {"text": "b"}).sequence == 1


def test_a_writer_waits_for_another_and_saves_when_that_is_done(quick_desk: Desk) -> None:
    other = sqlite.library().connect(
        quick_desk.book.store.place, isolation_level=None, check_same_thread=False
    )
    other.execute("BEGIN IMMEDIATE")
    done = threading.Timer(0.1, lambda: other.execute("ROLLBACK"))
    done.start()
    assert quick_desk.add("note", {"text": "a"}).sequence == 1
    done.join()
    other.close()


def test_a_failure_that_is_no_refusal_lets_the_writer_go(
    quick_desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    store = quick_desk.book.store
    assert isinstance(store, sqlite.SqliteStore)
    quick_desk.add("note", {"text": "a"})
    kept = store._writer
    with pytest.raises(ValueError, match="refused"), store.writing():
        raise ValueError("refused")
    assert store._writer is kept, "what is taken back as it should be leaves the connection as it was"

    def stuck(*_: object) -> None:
        raise MemoryError

    def unfinished(patch: pytest.MonkeyPatch) -> None:
        with store.writing() as connection:
            connection.exec_driver_sql("INSERT INTO meta VALUES ('a', 'b')")
            patch.setattr(store._engine.dialect, "do_rollback", stuck)
            raise ValueError("refused")

    with monkeypatch.context() as patch, pytest.raises(MemoryError):
        unfinished(patch)
    assert store._writer is None
    with store.reading() as connection:
        assert connection.exec_driver_sql("SELECT count(*) FROM meta").scalar() == 1
    assert quick_desk.add("note", {"text": "b"}).sequence == 2
