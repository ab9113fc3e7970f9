"""The power goes at any moment: in the allowed modes nothing saved is lost; modes that are not allowed fail the same test."""

import random
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import apsw
import pytest
import sqlalchemy as sa
from sqlalchemy.dialects.sqlite.pysqlite import dialect

from leanwright.book import ledger
from leanwright.book.entry import Worked
from leanwright.book.ledger import File, columns
from leanwright.book.stores import modes, sqlite, tables
from tests.book.cluster import quick_folder
from tests.book.conftest import NAME, Desk, SetClock
from tests.book.power import Disk, watched
from tests.faults.promises import TrialRun

ALLOWED = (("WAL", "FULL"), ("DELETE", "EXTRA"))
CANARY_IMAGES = 400
Mode = tuple[str, str]


@pytest.fixture(scope="module")
def source(
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[list[str], list[list[tuple[str, tuple[Any, ...]]]]]:
    """The tables of a book as SQL, and its transactions as the statements that the program itself runs."""
    folder = tmp_path_factory.mktemp("source")
    folder.chmod(0o700)
    store = sqlite.make_file(folder / "book.sqlite")
    desk = Desk(ledger.make(store, NAME, SetClock(), "t"), SetClock())
    draw = random.Random(1)  # noqa: S311  draws of a test, no secrets
    desk.add("engine", {"id": "E1", "cylinders": 6})
    for number in range(2, 14):
        files = (File("recording.csv", draw.randbytes(9000)),) if number % 4 == 0 else ()
        desk.add(
            "note",
            {"text": f"note {number} " * number * 8},
            files=files,
            worked=Worked(date=date(2031, 5, 1)),
        )
    desk.add("note", {"text": "better"}, supersedes=3, reason="typing")
    sealed = [one for one, _ in desk.book.entries()]
    contents = {digest: desk.book.attachment(digest) for one in sealed for digest in digests(one)}
    store.close()
    insert, keep = (compiled(sa.insert(table)) for table in (tables.ENTRIES, tables.ATTACHMENTS))
    transactions = []
    for one in sealed:
        kept = [(keep, (digest, contents[digest])) for digest in digests(one)]
        transactions.append([*kept, (insert, tuple(columns(one).values()))])
    database = sqlite3.connect(folder / "book.sqlite")
    schema = [
        row[0]
        for row in database.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid")
    ]
    database.close()
    migration = [(text, ()) for text in schema if "events" in text]
    return [text for text in schema if "events" not in text], [
        *transactions[:9],
        migration,
        *transactions[9:],
    ]


def digests(sealed: Any) -> list[str]:
    """The digests of an entry's attachments."""
    return [one.sha256 for one in sealed.entry.attachments]


def compiled(statement: Any) -> str:
    """A statement of the program as SQLite gets it."""
    return str(statement.compile(dialect=dialect()))


def recorded(mode: Mode, source: Any, folder: Path) -> tuple[Disk, list[int]]:
    """Run the transactions on a watched disk; gives after how many operations each was acknowledged."""
    schema, transactions = source
    disk, acknowledged = Disk(), []
    with watched(disk, f"watched-{'-'.join(mode)}") as layer:
        database = apsw.Connection(str(folder / "book.sqlite"), vfs=layer)
        allowed = modes.Mode(mode[0].lower(), mode[1])  # type: ignore[arg-type]  # canaries are no modes of ours
        settings = {name: value for name, value, _ in modes.pragmas(modes.WAL_FULL)}
        settings |= {"journal_mode": allowed.journal.upper(), "synchronous": allowed.synchronous}
        for name, value in settings.items():
            database.execute(f"PRAGMA {name} = {value}").fetchall()
        database.execute("PRAGMA wal_autocheckpoint = 12").fetchall()
        run(database, [(text, ()) for text in schema])
        database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
        begun = len(disk.operations)
        for one in transactions:
            run(database, one)
            acknowledged.append(len(disk.operations))
        database.close()
    return disk, [begun, *acknowledged]


def run(database: apsw.Connection, statements: Any) -> None:
    """One transaction of the one writer."""
    database.execute("BEGIN IMMEDIATE")
    for text, values in statements:
        database.execute(text, values)
    database.execute("COMMIT")


def judged(mode: Mode, images: int, draw: random.Random, source: Any, tmp_path: Path) -> tuple[int, int]:
    """How many of so many power cuts lost something saved, and how many left a book that is damaged."""
    disk, acknowledged = recorded(mode, source, tmp_path)
    begun, *saved_at = acknowledged
    whole = [
        (place, values)
        for place, one in enumerate(source[1])
        for text, values in one
        if "INTO entries" in text
    ]
    lost = damaged = 0
    with tempfile.TemporaryDirectory(prefix="lw-power-", dir=quick_folder()) as made:
        folder = Path(made)
        for _ in range(images):
            cut = draw.randrange(begun, len(disk.operations) + 1)
            for file in folder.iterdir():
                file.unlink()
            for name, content in disk.image(cut, draw).items():
                (folder / name).write_bytes(content)
            found = surviving(folder / "book.sqlite")
            promised = [values for place, values in whole if saved_at[place] <= cut]
            if found is None or found != [values for _, values in whole[: len(found)]]:
                damaged += 1
            elif len(found) < len(promised):
                lost += 1
    return lost, damaged


def surviving(file: Path) -> list[tuple[Any, ...]] | None:
    """The entries of an image after SQLite's own recovery, ``None`` if it is damaged or half of an entry is there."""
    try:
        database = apsw.Connection(str(file))
    except apsw.Error:
        return None
    try:
        if database.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
            return None
        found: list[tuple[Any, ...]] = database.execute("SELECT * FROM entries ORDER BY sequence").fetchall()
        kept = {row[0] for row in database.execute("SELECT sha256 FROM attachments")}
        wanted = {digest for row in found for digest in kept_by(row[1])}
        tables_of_migration = database.execute(
            "SELECT count(*) FROM sqlite_master WHERE tbl_name = 'events' AND sql IS NOT NULL"
        ).fetchall()[0][0]
        half = not wanted <= kept or tables_of_migration not in {0, 4}
    except apsw.Error:
        return None
    else:
        return None if half else found
    finally:
        database.close()


def kept_by(data: bytes) -> list[str]:
    """The digests that an entry's bytes name."""
    from leanwright.book.entry import decode

    return [one.sha256 for one in decode(bytes(data)).attachments]


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Path]:
    """A folder that is empty."""
    yield tmp_path
    shutil.rmtree(tmp_path, ignore_errors=True)


@pytest.mark.promise("D4")
@pytest.mark.parametrize("mode", ALLOWED, ids=" ".join)
def test_nothing_saved_is_lost_and_nothing_is_damaged_in_the_allowed_modes(
    mode: Mode, source: Any, place: Path, trial_run: TrialRun
) -> None:
    images = trial_run.trials // len(ALLOWED)
    assert judged(mode, images, trial_run.random(mode), source, place) == (0, 0)
    trial_run.measured(f"{' '.join(mode)}: 0 lost, 0 damaged", images)


@pytest.mark.promise("D4")
def test_canary_a_mode_that_flushes_too_seldom_loses_entries(
    source: Any, place: Path, trial_run: TrialRun
) -> None:
    lost, _ = judged(("WAL", "NORMAL"), CANARY_IMAGES, trial_run.random("seldom"), source, place)
    assert lost >= CANARY_IMAGES // 10


@pytest.mark.promise("D4")
def test_canary_a_mode_that_never_flushes_is_damaged(source: Any, place: Path, trial_run: TrialRun) -> None:
    _, damaged = judged(("DELETE", "OFF"), CANARY_IMAGES, trial_run.random("never"), source, place)
    assert damaged >= CANARY_IMAGES // 10
