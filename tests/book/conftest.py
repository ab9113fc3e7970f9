"""A book on each database, a clock that can be set, and the PostgreSQL that the tests start themselves."""

import io
import os
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from leanwright.book import ledger
from leanwright.book.entry import Author
from leanwright.book.ledger import Draft, Ledger, Written
from leanwright.book.stores import postgresql, sqlite
from leanwright.book.stores.store import Store
from leanwright.cli.start import run
from tests.book.cluster import Cluster, programs, quick_folder
from tests.book.commands import Call, Outcome

NAME = "0123456789abcdef0123456789abcdef"
NOON = datetime(2031, 5, 3, 12, 0, tzinfo=UTC)


@dataclass
class SetClock:
    """A clock that stands still until it is set."""

    now: datetime = NOON

    def __call__(self) -> datetime:
        return self.now

    def forward(self, **step: float) -> None:
        """Let time pass."""
        self.now += timedelta(**step)


@dataclass
class Desk:
    """A book with the habits of a test: short calls, request keys that count up, one author."""

    book: Ledger
    clock: SetClock
    count: int = field(default=0)

    def add(self, kind: str, body: dict[str, object], *, by: str = "Ada Example", **more: object) -> Written:
        """Append an entry."""
        self.count += 1
        author = Author(name=by, identified_by="typed")
        return self.book.append(Draft(kind, body, author, f"key-{self.count}", **more))  # type: ignore[arg-type]  # the fields of Draft

    def bodies(self) -> list[tuple[int, str, bytes]]:
        """What is written: number, kind, bytes."""
        return [(one.entry.sequence, one.entry.kind, one.data) for one, _ in self.book.entries()]


def spoiled(file: Path, *statements: str) -> None:
    """Change a book by hand, its guards taken away."""
    database = sqlite3.connect(file, isolation_level=None)
    for (name,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        database.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        database.execute(statement)
    database.close()


@pytest.fixture
def clock() -> SetClock:
    """A clock that stands at noon."""
    return SetClock()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A private folder."""
    tmp_path.chmod(0o700)
    return tmp_path


@pytest.fixture
def quick() -> Iterator[Path]:
    """A private folder in memory, if there is one."""
    with tempfile.TemporaryDirectory(prefix="lw-quick-", dir=quick_folder()) as made:
        yield Path(made)


@pytest.fixture
def book(folder: Path, clock: SetClock) -> Iterator[Ledger]:
    """A new book in a file."""
    store = sqlite.make_file(folder / "book.sqlite")
    yield ledger.make(store, NAME, clock, "leanwright test")
    store.close()


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """The tests' own PostgreSQL. Where there is none they say so and go on; CI insists."""
    found = programs()
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("CI has to run the book on PostgreSQL: apt-get install postgresql")
        pytest.skip("there is no PostgreSQL on this machine")
    made = Cluster(found)
    try:
        made.start()
        yield made
    finally:
        made.stop()


@pytest.fixture
def database(cluster: Cluster) -> str:
    """The address of an empty database, as its owner."""
    return cluster.address(cluster.new_place())


@pytest.fixture
def file_desk(folder: Path, clock: SetClock) -> Iterator[Desk]:
    """A new book in a file."""
    store = sqlite.make_file(folder / "book.sqlite")
    yield Desk(ledger.make(store, NAME, clock, "leanwright test"), clock)
    store.close()


@pytest.fixture
def quick_desk(quick: Path, clock: SetClock) -> Iterator[Desk]:
    """A new book in a file in memory."""
    store = sqlite.make_file(quick / "book.sqlite")
    yield Desk(ledger.make(store, NAME, clock, "leanwright test"), clock)
    store.close()


@pytest.fixture(params=["sqlite", "postgresql"])
def desk(request: pytest.FixtureRequest, folder: Path, clock: SetClock) -> Iterator[Desk]:
    """A new book, in a file and in PostgreSQL."""
    store: Store
    if request.param == "sqlite":
        store = sqlite.make_file(folder / "book.sqlite")
    else:
        store = postgresql.open_address(request.getfixturevalue("database"))
    yield Desk(ledger.make(store, NAME, clock, "leanwright test"), clock)
    store.close()


@pytest.fixture
def leanwright(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str], folder: Path) -> Call:
    """A caller of ``leanwright ARGUMENTS`` in this process, with what it reads from standard input."""
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))

    def call(*arguments: str, stdin: bytes = b"") -> Outcome:
        monkeypatch.setattr(sys, "argv", ["leanwright", *arguments])
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(stdin)))
        with pytest.raises(SystemExit) as stop:
            run()
        sys.stdout.flush()
        captured = capfd.readouterr()
        return Outcome(int(stop.value.code or 0), captured.out, captured.err)

    return call
