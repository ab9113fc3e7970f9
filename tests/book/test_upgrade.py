"""A book of an earlier form is copied, checked and brought forward, also if it is killed on the way; a newer one is refused."""

import os
import shutil
import signal
import sqlite3
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
import sqlalchemy as sa

from leanwright.book import backup, ledger, schema
from leanwright.book.stores import postgresql, sqlite, tables
from leanwright.book.stores.store import Store
from leanwright.book.verify import verify
from leanwright.errors import UnusableBookError
from leanwright.workbench import records
from tests.book.cluster import Cluster
from tests.book.conftest import NAME, Desk, SetClock
from tests.faults.promises import TrialRun
from tests.references import verify_book

# From Python 3.12 on a fork beside threads is warned of; the child opens everything anew and shares nothing.
pytestmark = pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
LOGS = ("-wal", "-shm")
"""What stands beside a copy that is whole, where the program was killed as it checked it."""
EARLIER = schema.STEPS[:-1]
KEPT = Path(__file__).parent / "kept_books"
"""A small book of each form, as the program of its time left it: that of the first form was made by the first program that had
a book at all, brought to that form alone, since no release stopped there. An engine, a correction, an attachment, an entry taken
back, and in the second form an event."""
KEPT_HEAD = "c92c8b83b394decb1d357c1f2473f8fb50af684b168263966d499789ca76ff8a"
"""What both said of themselves when they were made."""
KEPT_ENTRIES = 7
FILLED = 5


def filled(store: Store, form: str = EARLIER[0]) -> str:
    """Make a book of an earlier form with entries, as its program left it, in an empty store; gives its head."""
    schema.migrate(store, form)
    with store.writing() as connection:
        connection.execute(sa.insert(tables.META), [{"name": "ledger", "value": NAME}])
    desk = Desk(ledger.open_ledger(store, SetClock(), "t"), SetClock())
    for number in range(FILLED):
        desk.add("note", {"text": f"old {number}"})
    head = desk.book.head()
    store.close()
    return head


def kept(form: str, folder: Path) -> Path:
    """A copy of the kept book of a form, private as a book has to be."""
    file = folder / "book.sqlite"
    shutil.copyfile(KEPT / f"form-{form}.sqlite", file)
    file.chmod(0o600)
    return file


def rows(file: Path) -> list[list[tuple[object, ...]]]:
    """Every row of the tables that all forms have, as the file holds it."""
    database = sqlite3.connect(f"file:{file}?mode=ro", uri=True)
    names = ("meta", "entries", "attachments")
    found = [database.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall() for name in names]  # noqa: S608  names of our own tables
    database.close()
    return found


@pytest.mark.promise("B4")
@pytest.mark.parametrize("form", schema.STEPS)
def test_the_kept_book_of_each_form_is_copied_checked_and_brought_forward(folder: Path, form: str) -> None:
    file = kept(form, folder)
    before = rows(file)
    assert verify_book.main(file, KEPT_HEAD) == 0
    book = records.open_book(str(file))
    assert (schema.form_of(book.store), verify(book.store).problems) == (schema.NEWEST, ())
    assert rows(file) == before
    assert [newer for _, newer in book.entries()] == [None, None, 4, None, None, 7, None]
    slip = book.entry(5)[0].entry.attachments[0]
    assert (slip.name, book.attachment(slip.sha256)) == ("slip é.txt", b"nozzle 1: 250 mg/s\n")
    assert [one["sound"] for one in book.events("check")] == ["yes"] * (form > "0001")
    state = book.state()
    assert (state.engines["E1"].body.cylinders, state.tools) == (4, {})
    assert Desk(book, SetClock(), KEPT_ENTRIES).add("note", {"text": "goes on"}).sequence == KEPT_ENTRIES + 1
    book.close()
    copies = [one for one in folder.iterdir() if f".form-{form}" in one.name and not one.name.endswith(LOGS)]
    assert [rows(one) for one in copies] == [before] * (form in EARLIER)


@pytest.mark.promise("B4")
def test_a_book_of_an_older_form_in_postgresql_is_backed_up_first(
    database: str, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(folder))
    head = filled(postgresql.open_address(database))
    book = records.open_book(database)
    assert (book.head(), schema.form_of(book.store)) == (head, schema.NEWEST)
    book.close()
    kept = list((folder / "leanwright").glob("*.form-0001.backup"))
    assert [backup.read_manifest(one).head for one in kept] == [head]


def test_a_book_of_an_older_form_that_is_damaged_is_left_as_it_is(folder: Path) -> None:
    place = folder / "old.sqlite"
    filled(sqlite.make_file(place))
    database = sqlite3.connect(place)
    database.execute("DROP TRIGGER entries_no_update")
    database.execute("UPDATE entries SET data = x'7b7d'")
    database.commit()
    database.close()
    with pytest.raises(UnusableBookError, match="not sound"):
        records.open_book(str(place))
    store = sqlite.open_file(place)
    assert schema.form_of(store) == "0001"
    store.close()


@pytest.mark.promise("B4")
@pytest.mark.parametrize("kind", ["file", "PostgreSQL"])
def test_a_book_of_a_newer_program_is_refused_and_left_as_it_is(
    request: pytest.FixtureRequest, folder: Path, kind: str
) -> None:
    place = str(kept(schema.NEWEST, folder)) if kind == "file" else request.getfixturevalue("database")
    if kind == "PostgreSQL":
        filled(postgresql.open_address(place), schema.NEWEST)
    book = records.open_book(place)
    before = [one.data for one, _ in book.entries()]
    with book.store.writing() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '0003'")
    with pytest.raises(
        UnusableBookError, match="made by a newer leanwright; this one knows forms up to 0002"
    ):
        records.open_book(place)
    assert (schema.form_of(book.store), [one.data for one, _ in book.entries()]) == ("0003", before)
    book.close()


@dataclass(frozen=True)
class Old:
    """A book of an earlier form: where it is, how it is opened as it stands, where its copies go, its head and entries."""

    place: str
    as_it_stands: Callable[[], Store]
    folder: Path
    form: str
    head: str
    entries: int

    def form_now(self) -> str | None:
        """The form that it has, without bringing it forward."""
        store = self.as_it_stands()
        try:
            return schema.form_of(store)
        finally:
            store.close()

    def is_taken_up_again(self) -> bool:
        """Open it after a kill, and compare with what it was; gives whether it was killed before its form changed."""
        found = self.form_now()
        assert found in {self.form, schema.NEWEST}
        book = records.open_book(self.place)
        assert (book.head(), schema.form_of(book.store)) == (self.head, schema.NEWEST)
        assert (verify(book.store).problems, len(list(book.entries()))) == ((), self.entries)
        book.close()
        self._check_copies()
        return found == self.form

    def _check_copies(self) -> None:
        """Every copy that was kept has to be the book as it was."""
        copies = [
            one for one in self.folder.rglob("*.form-*") if one.name[0] != "." and not one.name.endswith(LOGS)
        ]
        assert copies
        for copy in copies:
            if copy.suffix == ".backup":
                assert backup.read_manifest(copy).head == self.head
                continue
            store = sqlite.open_file(copy, read_only=True)
            found = verify(store)
            assert (schema.form_of(store), found.problems, found.head) == (self.form, (), self.head)
            store.close()


@pytest.fixture(params=[(kind, form) for form in EARLIER for kind in ("file", "PostgreSQL")], ids=" ".join)
def old_books(
    request: pytest.FixtureRequest, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> tuple[str, Callable[[], Old]]:
    """A maker of books of an earlier form, and what it is called."""
    kind, form = request.param
    numbers = iter(range(1_000_000))

    def made() -> Old:
        here = folder / str(next(numbers))
        here.mkdir(mode=0o700)
        monkeypatch.setenv("XDG_DATA_HOME", str(here))
        if kind == "file":
            file = kept(form, here)
            return Old(str(file), lambda: sqlite.open_file(file), here, form, KEPT_HEAD, KEPT_ENTRIES)
        cluster: Cluster = request.getfixturevalue("cluster")
        address = cluster.address(cluster.new_place())
        head = filled(postgresql.open_address(address), form)
        return Old(address, lambda: postgresql.open_address(address), here, form, head, FILLED)

    records.open_book(made().place).close()  # everything that is loaded late is loaded now
    return f"{kind}, from form {form}", made


def opened_until(place: str, *, after_s: float | None = None, statement: int | None = None) -> bool:
    """Open a book in a process of its own and kill that so long after, or at so many statements; gives if it was killed."""
    pid = os.fork()
    if pid == 0:
        numbers = iter(range(1, 1_000_000))

        def count(*_: object) -> None:
            if next(numbers) == statement:
                os.kill(os.getpid(), signal.SIGKILL)

        sa.event.listen(sa.Engine, "before_cursor_execute", count)
        records.open_book(place)
        os._exit(0)
    if after_s is not None:
        time.sleep(after_s)
        os.kill(pid, signal.SIGKILL)
    _, status = os.waitpid(pid, 0)
    return os.WIFSIGNALED(status)


@pytest.mark.promise("B4")
def test_an_upgrade_that_is_killed_at_any_moment_is_taken_up_again(
    old_books: tuple[str, Callable[[], Old]], trial_run: TrialRun
) -> None:
    name, made = old_books
    draw = trial_run.random(name)
    whole = made()
    started = time.monotonic()
    assert not opened_until(whole.place)
    whole_s = time.monotonic() - started
    assert whole.form_now() == schema.NEWEST != whole.form, "canary: the migration changes something"
    before = 0
    for _ in range(trial_run.trials):
        old = made()
        opened_until(old.place, after_s=draw.uniform(0.0, 1.3 * whole_s))
        before += old.is_taken_up_again()
    assert before, "none was killed on the way"
    trial_run.measured(
        f"{name}: 0 lost; {before} killed before the change and taken up again", trial_run.trials
    )


@pytest.mark.promise("B4")
def test_an_upgrade_that_is_killed_at_any_statement_is_taken_up_again(
    old_books: tuple[str, Callable[[], Old]], trial_run: TrialRun
) -> None:
    name, made = old_books
    before: list[bool] = []
    old = made()
    while opened_until(old.place, statement=len(before) + 1):
        before.append(old.is_taken_up_again())
        old = made()
    assert old.form_now() == schema.NEWEST
    assert before[0], "the first statement comes before the change"
    assert len(before) > 10
    trial_run.measured(f"{name}: 0 lost, killed at each of its {len(before)} statements", len(before))
