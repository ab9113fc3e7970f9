"""Somebody with full access to the file changes it: verify says so, and so does the independent verifier."""

import random
import shutil
import sqlite3
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from leanwright.book import chain, ledger
from leanwright.book.entry import Worked, decode
from leanwright.book.ledger import File
from leanwright.book.stores import sqlite
from leanwright.book.verify import verify
from leanwright.errors import LeanwrightError
from leanwright.report.words.catalogue import LANGUAGES
from tests.book.conftest import NAME, Desk, SetClock
from tests.faults.promises import TrialRun
from tests.references import verify_book
from tests.report.english import english_left

COUNT = 40


@pytest.fixture
def file(file_desk: Desk, folder: Path) -> Path:
    """The file of a closed book with some entries and attachments."""
    file_desk.add("engine", {"id": "E1", "cylinders": 6})
    for number in range(2, COUNT):
        content = random.Random(number).randbytes(2000)  # noqa: S311  draws of a test, no secrets
        files = (File(f"scan{number}", content),) if number % 5 == 0 else ()
        file_desk.add(
            "note", {"text": f"note {number} " * 8}, files=files, worked=Worked(date=date(2031, 5, 1))
        )
    file_desk.add("note", {"text": "better"}, supersedes=7, reason="typing")
    file_desk.book.close()
    return folder / "book.sqlite"


def changed(file: Path, change: Callable[[sqlite3.Connection], object]) -> None:
    """Change a book by hand, as somebody would who first takes the guards away and puts them back afterwards."""
    database = sqlite3.connect(file, isolation_level=None)
    guards = database.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        database.execute(f"DROP TRIGGER {name}")
    change(database)
    for _, text in guards:
        database.execute(text)
    database.close()


def judged(file: Path, head: str | None = None) -> tuple[bool, bool]:
    """Whether our own walk and the independent one call a book sound."""
    store = sqlite.open_file(file, read_only=True)
    try:
        ours = verify(store, head).sound
    except LeanwrightError:
        ours = False
    finally:
        store.close()
    return ours, verify_book.main(file, head) == 0


def rewritten(database: sqlite3.Connection, number: int, old: bytes, new: bytes, *, rehash: bool) -> None:
    """Change the bytes of an entry, with its own hash set anew or not."""
    data, previous = database.execute(
        "SELECT data, previous FROM entries WHERE sequence = ?", (number,)
    ).fetchone()
    assert old in data
    made = data.replace(old, new)
    database.execute("UPDATE entries SET data = ? WHERE sequence = ?", (made, number))
    if rehash:
        own = chain.link(chain.ENTRY_MARK, previous, made)
        database.execute("UPDATE entries SET hash = ? WHERE sequence = ?", (own, number))


def rehashed_from(database: sqlite3.Connection, number: int) -> None:
    """Write everything anew from an entry on, with a whole chain: no file by itself can show that."""
    rows = database.execute(
        "SELECT sequence, data FROM entries WHERE sequence >= ? ORDER BY sequence", (number,)
    ).fetchall()
    database.execute("DELETE FROM entries WHERE sequence >= ?", (number,))
    previous = database.execute("SELECT hash FROM entries WHERE sequence = ?", (number - 1,)).fetchone()[0]
    hashes = {row[0]: row[1] for row in database.execute("SELECT sequence, hash FROM entries")}
    for sequence, data in rows:
        entry = decode(data)
        made = data.replace(entry.previous.encode(), previous.encode())
        if sequence == number:
            made = made.replace(b"note", b"Note", 0).replace(b"note 20 note 20", b"note 99 note 20")
        if entry.supersedes is not None and entry.supersedes_hash is not None:
            made = made.replace(entry.supersedes_hash.encode(), hashes[entry.supersedes].encode())
        own = chain.link(chain.ENTRY_MARK, previous, made)
        database.execute(
            "INSERT INTO entries VALUES (?, ?, ?, ?, ?, ?)",
            (sequence, made, previous, own, entry.request_key, entry.supersedes),
        )
        previous = hashes[sequence] = own


def swapped(database: sqlite3.Connection) -> None:
    """Exchange two entries."""
    database.execute("UPDATE entries SET sequence = 1000 WHERE sequence = 11")
    database.execute("UPDATE entries SET sequence = 11 WHERE sequence = 12")
    database.execute("UPDATE entries SET sequence = 12 WHERE sequence = 1000")


def inserted(database: sqlite3.Connection) -> None:
    """Put a copy of an entry at the end."""
    data, previous, own = database.execute(
        "SELECT data, previous || 'x', hash FROM entries WHERE sequence = 9"
    ).fetchone()
    database.execute("INSERT INTO entries VALUES (?, ?, ?, ?, 'new', NULL)", (COUNT + 1, data, previous, own))


TAMPERINGS: dict[str, Callable[[sqlite3.Connection], object]] = {
    "edit": lambda base: rewritten(base, 10, b"note 10", b"note 11", rehash=False),
    "edit with its hash": lambda base: rewritten(base, 10, b"note 10", b"note 11", rehash=True),
    "edit of the last": lambda base: rewritten(base, COUNT, b"better", b"worse!", rehash=False),
    "re-time": lambda base: rewritten(base, 12, b"2031-05-01", b"2031-04-01", rehash=True),
    "delete": lambda base: base.execute("DELETE FROM entries WHERE sequence = 13"),
    "delete the first": lambda base: base.execute("DELETE FROM entries WHERE sequence = 1"),
    "insert": inserted,
    "swap": swapped,
    "column": lambda base: base.execute("UPDATE entries SET request_key = 'other' WHERE sequence = 5"),
    "supersede in the column": lambda base: base.execute(
        "UPDATE entries SET supersedes = 6 WHERE sequence = 8"
    ),
    "attachment": lambda base: base.execute("UPDATE attachments SET content = x'00' WHERE rowid = 1"),
    "attachment taken away": lambda base: base.execute("DELETE FROM attachments WHERE rowid = 2"),
    "name": lambda base: base.execute("UPDATE meta SET value = ? WHERE name = 'ledger'", ("f" * 32,)),
}


@pytest.mark.promise("L2")
@pytest.mark.parametrize("name", TAMPERINGS)
def test_tampering_is_seen_in_the_file_alone(file: Path, name: str) -> None:
    assert judged(file) == (True, True)
    changed(file, TAMPERINGS[name])
    assert judged(file) == (False, False)


@pytest.mark.parametrize("name", TAMPERINGS)
def test_what_is_wrong_with_a_book_is_left_in_english_in_no_language(file: Path, name: str) -> None:
    changed(file, TAMPERINGS[name])
    store = sqlite.open_file(file, read_only=True)
    found = verify(store, "0" * 16)
    store.close()
    left = {one: english_left(problem, one) for one in LANGUAGES[1:] for problem in found.problems}
    assert found.problems
    assert {one: patterns for one, patterns in left.items() if patterns} == {}


@pytest.mark.promise("L2")
@pytest.mark.parametrize(
    "change",
    [
        lambda base: base.execute("DELETE FROM entries WHERE sequence > 30"),
        lambda base: rehashed_from(base, 20),
        lambda base: rewritten(base, COUNT, b"better", b"worse!", rehash=True),
    ],
    ids=["cut tail", "all written anew", "the last with its hash"],
)
def test_a_cut_tail_and_a_new_chain_are_seen_by_a_head_that_was_kept(
    file: Path, change: Callable[[sqlite3.Connection], object]
) -> None:
    database = sqlite3.connect(file)
    head = chain.short(database.execute("SELECT hash FROM entries ORDER BY sequence DESC").fetchone()[0])
    earlier = chain.short(database.execute("SELECT hash FROM entries WHERE sequence = 15").fetchone()[0])
    database.close()
    assert judged(file, head) == judged(file, earlier) == (True, True)
    changed(file, change)
    # Said in the manual: the file alone cannot show it.
    assert judged(file) == (True, True)
    assert judged(file, earlier) == (True, True)
    assert judged(file, head) == (False, False)


@pytest.mark.promise("L2")
def test_a_moved_signature_is_seen(folder: Path) -> None:
    # Made without the rules of the ledger, by rows: a signature under a record that it was not given for.
    store = sqlite.make_file(folder / "moved.sqlite")
    book = ledger.make(store, NAME, SetClock(), "t")
    desk = Desk(book, SetClock())
    text = "a"
    desk.add("note", {"text": text})
    store.close()
    database = sqlite3.connect(folder / "moved.sqlite")
    first = database.execute("SELECT data, hash FROM entries").fetchone()
    database.close()
    body = (
        b'"kind":"signature","ledger":"' + NAME.encode() + b'","offset_minutes":0,"previous":"' + first[1].encode()
        + b'","program":"t","recorded":"2031-05-03T12:00:00Z","request_key":"k","sequence":2,"signature":{'
        b'"certificate_kind":"mechanic","certificate_number":"1","identified_by":"typed-by-signer","meaning":"released",'
        b'"name":"Ada","shown_sha256":"' + b"0" * 64 + b'","time":"2031-05-03T12:00:00Z"},"subject":"book"}'
    )  # fmt: skip
    data = (
        b'{"author":{"identified_by":"typed","name":"Ada"},"body":{"record":1},"format":"leanwright/entry/1",'
        + body
    )
    own = chain.link(chain.ENTRY_MARK, first[1], data)
    changed(
        folder / "moved.sqlite",
        lambda base: base.execute(
            "INSERT INTO entries VALUES (2, ?, ?, ?, 'k', NULL)", (data, first[1], own)
        ),
    )
    assert judged(folder / "moved.sqlite") == (False, False)


def test_a_guard_that_was_taken_away_is_seen(file: Path) -> None:
    database = sqlite3.connect(file)
    database.execute("DROP TRIGGER entries_no_delete")
    database.close()
    store = sqlite.open_file(file)
    assert verify(store).problems == ("the guard entries_no_delete is missing or changed",)
    store.close()


def kept_bytes(file: Path) -> tuple[object, ...] | None:
    """Every stored record and attachment, or ``None`` if they cannot be read."""
    database = sqlite3.connect(f"file:{file}?mode=ro", uri=True)
    try:
        return (
            database.execute(
                "SELECT sequence, data, previous, hash, request_key, supersedes FROM entries"
            ).fetchall(),
            database.execute("SELECT sha256, content FROM attachments ORDER BY sha256").fetchall(),
        )
    except (sqlite3.Error, UnicodeDecodeError):
        return None
    finally:
        database.close()


@pytest.mark.promise("L1")
def test_no_change_of_a_byte_in_a_record_is_missed(file: Path, folder: Path, trial_run: TrialRun) -> None:
    good = kept_bytes(file)
    content = file.read_bytes()
    draw = trial_run.random()
    place = folder / "spoiled.sqlite"
    tried = missed = 0
    while tried < trial_run.trials:
        spoiled = bytearray(content)
        spoiled[draw.randrange(len(spoiled))] = draw.randrange(256)
        place.write_bytes(spoiled)
        place.chmod(0o600)
        if kept_bytes(place) == good:
            continue
        tried += 1
        missed += sound(place)
    assert missed == 0
    shutil.copy(file, place)
    assert sound(place), "canary: an unchanged book"
    trial_run.measured("0 changed entries or attachments missed", tried)


def replaced(number: int, change: Callable[[bytes], bytes]) -> Callable[[sqlite3.Connection], object]:
    """Put other bytes in the place of an entry's, with a hash that fits them."""

    def change_it(database: sqlite3.Connection) -> None:
        wanted = "SELECT data, previous FROM entries WHERE sequence = ?"
        data, previous = database.execute(wanted, (number,)).fetchone()
        made = change(data)
        own = chain.link(chain.ENTRY_MARK, previous, made)
        database.execute("UPDATE entries SET data = ?, hash = ? WHERE sequence = ?", (made, own, number))

    return change_it


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (replaced(COUNT, lambda _data: b"{}"), "it is no entry"),
        (replaced(COUNT, lambda data: data.replace(b'","', b'", "', 1)), "not in canonical form"),
        (replaced(COUNT, lambda data: data.replace(NAME.encode(), b"1" * 32)), "it belongs elsewhere"),
        (replaced(COUNT, lambda data: data.replace(b'"key-40"', b'"key-99"')), "its columns do not say"),
        (
            replaced(COUNT, lambda data: data.replace(b'"supersedes":7', b'"supersedes":99')),
            "its columns do not",
        ),
        (lambda database: database.execute("UPDATE entries SET data = x'00'"), "entry 1: its hash"),
        (
            lambda database: database.execute(
                "INSERT INTO events VALUES (1, x'7b7d', 'elsewhere', 'no hash')"
            ),
            "event 1 does not follow",
        ),
        (
            lambda database: database.execute(
                "INSERT INTO events VALUES (1, x'7b7d', ?, 'no hash')", (chain.genesis(NAME),)
            ),
            "event 1: its hash",
        ),
        (
            lambda database: database.execute("INSERT INTO attachments VALUES (?, x'00')", ("0" * 64,)),
            "is not what was kept",
        ),
    ],
)
def test_each_thing_that_is_wrong_is_named(
    file: Path, change: Callable[[sqlite3.Connection], object], words: str
) -> None:
    changed(file, change)
    store = sqlite.open_file(file, read_only=True)
    found = verify(store)
    store.close()
    assert any(words in one for one in found.problems), found.problems
    assert len(found.problems) <= 40


def sound(file: Path) -> bool:
    """Whether verify finds nothing; a book that cannot be opened is no miss."""
    try:
        store = sqlite.open_file(file, read_only=True)
    except LeanwrightError:
        return False
    try:
        return verify(store).sound
    except LeanwrightError:
        return False
    finally:
        store.close()
