"""A book of an earlier form is copied, checked and brought forward, also if it is killed on the way; a newer one is refused."""

import os
import signal
import sqlite3
import time
from collections.abc import Callable
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

# From Python 3.12 on a fork beside threads is warned of; the child opens everything anew and shares nothing.
pytestmark = pytest.mark.filterwarnings("ignore:This process:DeprecationWarning")
LOGS = ("-wal", "-shm")
"""What stands beside a copy that is whole, where the program was killed as it checked it."""
EARLIER = schema.STEPS[:-1]


def filled(store: Store, form: str = EARLIER[0]) -> str:
    """Make a book of an earlier form with entries, as its program left it, in an empty store; gives its head."""
    schema.migrate(store, form)
    with store.writing() as connection:
        connection.execute(sa.insert(tables.META), [{"name": "ledger", "value": NAME}])
    desk = Desk(ledger.open_ledger(store, SetClock(), "t"), SetClock())
    for number in range(5):
        desk.add("note", {"text": f"old {number}"})
    head = desk.book.head()
    store.close()
    return head


@pytest.mark.promise("B4")
def test_a_book_of_an_older_form_is_copied_checked_and_brought_forward(folder: Path) -> None:
    head = filled(sqlite.make_file(folder / "old.sqlite"))
    place = folder / "old.sqlite"
    book = records.open_book(str(place))
    assert (book.head(), schema.form_of(book.store), verify(book.store).sound) == (head, schema.NEWEST, True)
    book.close()
    copy = sqlite.open_file(folder / "old.sqlite.form-0001", read_only=True)
    assert (schema.form_of(copy), verify(copy).head) == ("0001", head)
    copy.close()


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
def test_a_book_of_a_newer_program_is_refused(file_desk: Desk, folder: Path) -> None:
    file_desk.add("note", {"text": "a"})
    file_desk.book.close()
    database = sqlite3.connect(folder / "book.sqlite")
    database.execute("UPDATE alembic_version SET version_num = '0003'")
    database.commit()
    database.close()
    with pytest.raises(UnusableBookError, match="newer"):
        records.open_book(str(folder / "book.sqlite"))


def opened_until(place: str, after_s: float | None) -> float:
    """Open a book in a process of its own, and kill that so long after; gives how long it was at work [s]."""
    started = time.monotonic()
    pid = os.fork()
    if pid == 0:
        records.open_book(place)
        os._exit(0)
    if after_s is not None:
        time.sleep(after_s)
        os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return time.monotonic() - started


def form_at(store: Store) -> str | None:
    """The form of a book that nobody brings forward."""
    try:
        return schema.form_of(store)
    finally:
        store.close()


def check_copies(copies: list[Path], form: str, head: str) -> None:
    """Every copy that was kept has to be the book as it was."""
    assert copies
    for copy in copies:
        if copy.suffix == ".backup":
            assert backup.read_manifest(copy).head == head
            continue
        store = sqlite.open_file(copy, read_only=True)
        assert (schema.form_of(store), verify(store).problems, verify(store).head) == (form, (), head)
        store.close()


@pytest.mark.promise("B4")
@pytest.mark.parametrize("form", EARLIER)
@pytest.mark.parametrize("kind", ["file", "PostgreSQL"])
def test_an_upgrade_that_is_killed_anywhere_is_taken_up_again(
    folder: Path,
    kind: str,
    form: str,
    trial_run: TrialRun,
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    draw = trial_run.random(kind + form)
    numbers = iter(range(1_000_000))

    def made() -> tuple[str, Callable[[], Store], Path, str]:
        here = folder / str(next(numbers))
        here.mkdir(mode=0o700)
        monkeypatch.setenv("XDG_DATA_HOME", str(here))
        if kind == "file":
            file = here / "book.sqlite"
            return str(file), lambda: sqlite.open_file(file), here, filled(sqlite.make_file(file), form)
        cluster: Cluster = request.getfixturevalue("cluster")
        address = cluster.address(cluster.new_place())
        head = filled(postgresql.open_address(address), form)
        return address, lambda: postgresql.open_address(address), here, head

    records.open_book(made()[0]).close()  # everything that is loaded late is loaded now
    place, opened, _, _ = made()
    whole_s = opened_until(place, None)
    assert form_at(opened()) == schema.NEWEST != form, "canary: the migration changes something"
    interrupted = 0
    for _ in range(trial_run.trials):
        place, opened, here, head = made()
        opened_until(place, draw.uniform(0.0, whole_s))
        found = form_at(opened())
        assert found in {form, schema.NEWEST}
        interrupted += found == form
        book = records.open_book(place)
        assert (book.head(), schema.form_of(book.store)) == (head, schema.NEWEST)
        assert (verify(book.store).problems, len(list(book.entries()))) == ((), 5)
        book.close()
        copies = [one for one in here.rglob("*.form-*") if one.name[0] != "." and not one.name.endswith(LOGS)]
        check_copies(copies, form, head)
    assert interrupted, "none was killed on the way"
    trial_run.measured(
        f"{kind}, from form {form}: 0 lost; {interrupted} killed before the change and taken up again",
        trial_run.trials,
    )
