"""The power goes at any moment: in the allowed modes nothing saved is lost; modes that are not allowed fail the same test."""

import hashlib
import random
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
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
from tests.book.conftest import NAME, Desk, SetClock, spoiled
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
        # Often, so that the power goes in many checkpoints; yet none follows the migration at once and makes it durable.
        database.execute("PRAGMA wal_autocheckpoint = 16").fetchall()
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


@dataclass(frozen=True)
class Judged:
    """Of so many power cuts: how many lost a saved entry, undid a finished migration, or left a damaged book."""

    lost: int
    undone: int
    damaged: int


def judged(mode: Mode, images: int, draw: random.Random, source: Any, tmp_path: Path) -> Judged:
    """Cut the power so often, and compare each image with what was acknowledged by then."""
    disk, acknowledged = recorded(mode, source, tmp_path)
    begun, *saved_at = acknowledged
    whole = [
        (saved, values)
        for saved, one in zip(saved_at, source[1], strict=True)
        for text, values in one
        if "INTO entries" in text
    ]
    (migrated_at,) = (
        saved for saved, one in zip(saved_at, source[1], strict=True) if "CREATE TABLE" in one[0][0]
    )
    lost = undone = damaged = 0
    with tempfile.TemporaryDirectory(prefix="lw-power-", dir=quick_folder()) as made:
        for _ in range(images):
            cut = draw.randrange(begun, len(disk.operations) + 1)
            found = surviving(laid_out(disk.image(cut, draw), Path(made)))
            promised = sum(saved <= cut for saved, _ in whole)
            if found is None or found.entries != [values for _, values in whole[: len(found.entries)]]:
                damaged += 1
            else:
                lost += len(found.entries) < promised
                undone += migrated_at <= cut and not found.migrated
    return Judged(lost, undone, damaged)


def laid_out(image: dict[str, bytes], folder: Path) -> Path:
    """Write the files of an image into a folder, in the place of those before; gives the book's."""
    for file in folder.iterdir():
        file.unlink()
    for name, content in image.items():
        (folder / name).write_bytes(content)
    return folder / "book.sqlite"


@dataclass(frozen=True)
class Surviving:
    """What a power cut left: the rows of entries, and whether the migration was done."""

    entries: list[tuple[Any, ...]]
    migrated: bool


def surviving(file: Path) -> Surviving | None:
    """What an image holds after SQLite's own recovery, ``None`` if it is damaged or half of something is there."""
    try:
        database = apsw.Connection(str(file))
    except apsw.Error:
        return None
    try:
        if database.execute("PRAGMA integrity_check").fetchall() != [("ok",)]:
            return None
        found: list[tuple[Any, ...]] = database.execute("SELECT * FROM entries ORDER BY sequence").fetchall()
        kept: dict[str, bytes] = {row[0]: row[1] for row in database.execute("SELECT * FROM attachments")}
        wanted = {digest for row in found for digest in kept_by(row[1])}
        tables_of_migration = database.execute(
            "SELECT count(*) FROM sqlite_master WHERE tbl_name = 'events' AND sql IS NOT NULL"
        ).fetchall()[0][0]
        changed = any(hashlib.sha256(content).hexdigest() != digest for digest, content in kept.items())
        half = changed or not wanted <= kept.keys() or tables_of_migration not in {0, 4}
    except apsw.Error:
        return None
    else:
        return None if half else Surviving(found, migrated=tables_of_migration == 4)
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
    assert judged(mode, images, trial_run.random(mode), source, place) == Judged(0, 0, 0)
    trial_run.measured(f"{' '.join(mode)}: 0 lost, 0 migrations undone, 0 damaged", images)


@pytest.mark.promise("D4")
def test_canary_a_mode_that_flushes_too_seldom_loses_entries_and_the_migration(
    source: Any, place: Path, trial_run: TrialRun
) -> None:
    found = judged(("WAL", "NORMAL"), CANARY_IMAGES, trial_run.random("seldom"), source, place)
    assert found.lost >= CANARY_IMAGES // 10
    assert found.undone > 0


@pytest.mark.promise("D4")
def test_canary_a_mode_that_never_flushes_is_damaged(source: Any, place: Path, trial_run: TrialRun) -> None:
    found = judged(("DELETE", "OFF"), CANARY_IMAGES, trial_run.random("never"), source, place)
    assert found.damaged >= CANARY_IMAGES // 10


@pytest.mark.promise("D4")
def test_canary_an_attachment_of_another_content_is_half(
    source: Any, place: Path, tmp_path_factory: pytest.TempPathFactory, trial_run: TrialRun
) -> None:
    disk, _ = recorded(ALLOWED[0], source, place)
    image = disk.image(len(disk.operations), trial_run.random("content"))
    file = laid_out(image, tmp_path_factory.mktemp("image"))
    assert surviving(file) is not None
    spoiled(file, "UPDATE attachments SET content = zeroblob(9000) WHERE rowid = 2")
    assert surviving(file) is None
