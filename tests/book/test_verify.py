"""The walk through a book and the saving of what is sound, whole: every finding in its words, with the entry it is about."""

import hashlib
import json
import sqlite3
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from leanwright.book import chain, rescue
from leanwright.book.ledger import File
from leanwright.book.stores import sqlite
from leanwright.book.verify import Verified, verify
from leanwright.errors import DamagedBookError, UnusableBookError
from leanwright.workbench import release, safekeeping
from tests.book import job
from tests.book.conftest import NAME, Desk, spoiled

SCAN = hashlib.sha256(b"scanned").hexdigest()
EVENTS = "the events (backups and drills) are not carried over"
SAYS = "the database says: "
Change = Callable[[sqlite3.Connection], object]


@pytest.fixture
def file(quick_desk: Desk) -> Path:
    """The file of a closed book: four notes, of which two have one attachment, a correction, two events."""
    quick_desk.add("note", {"text": "eins"})
    quick_desk.add("note", {"text": "zwei"}, files=(File("scan.pdf", b"scanned"),))
    quick_desk.add("note", {"text": "drei"}, files=(File("again.pdf", b"scanned"),))
    quick_desk.add("note", {"text": "vier"})
    quick_desk.add("note", {"text": "fünf"}, supersedes=1, reason="typing")
    quick_desk.book.note_event("test", {})
    quick_desk.book.note_event("test", {})
    quick_desk.book.close()
    return Path(quick_desk.book.store.place)


def changed(file: Path, *changes: Change | str) -> None:
    """Change a book by hand; its guards are put back."""
    database = sqlite3.connect(file, isolation_level=None)
    guards = database.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    for name, _ in guards:
        database.execute(f"DROP TRIGGER {name}")
    for change in changes:
        if isinstance(change, str):
            database.execute(change)
        else:
            change(database)
    for _, text in guards:
        database.execute(text)
    database.close()


def walked(file: Path, head: str | None = None) -> Verified:
    """What the walk finds."""
    store = sqlite.open_file(file, read_only=True)
    found = verify(store, head)
    store.close()
    return found


def head_of(file: Path, number: int) -> str:
    """The hash of an entry."""
    database = sqlite3.connect(file)
    ((own,),) = database.execute("SELECT hash FROM entries WHERE sequence = ?", (number,)).fetchall()
    database.close()
    return str(own)


def anew(number: int, old: str, new: str) -> Change:
    """Other bytes in an entry, and everything after it hashed anew, so that the chain holds."""

    def change(database: sqlite3.Connection) -> None:
        rows = database.execute(
            "SELECT sequence, data, previous FROM entries WHERE sequence >= ? ORDER BY sequence", (number,)
        ).fetchall()
        hashes = dict(database.execute("SELECT hash, hash FROM entries").fetchall())
        before = rows[0][2]
        for sequence, data, _ in rows:
            text = data.decode()
            if sequence == number:
                assert old in text
                text = text.replace(old, new)
            for was, now in hashes.items():
                text = text.replace(was, now)
            made = text.encode()
            own = chain.link(chain.ENTRY_MARK, before, made)
            hashes[
                database.execute("SELECT hash FROM entries WHERE sequence = ?", (sequence,)).fetchone()[0]
            ] = own
            database.execute(
                "UPDATE entries SET data = ?, previous = ?, hash = ? WHERE sequence = ?",
                (made, before, own, sequence),
            )
            before = own

    return change


def loosened(table: str, statement: str) -> Change:
    """A statement on a table that is not strict for the while."""

    def change(database: sqlite3.Connection) -> None:
        ((text,),) = database.execute("SELECT sql FROM sqlite_master WHERE name = ?", (table,)).fetchall()
        for made, then in ((text.replace("STRICT", ""), statement), (text, "SELECT 1")):
            database.execute("PRAGMA writable_schema = ON")
            database.execute("UPDATE sqlite_master SET sql = ? WHERE name = ?", (made, table))
            database.execute("PRAGMA writable_schema = RESET")
            database.execute(then)

    return change


WRONG: dict[str, tuple[Change | str, list[str], int | None]] = {
    "nothing": ("SELECT 1", [], None),
    "text for bytes": (
        loosened("entries", "UPDATE entries SET data = 'x' WHERE sequence = 4"),
        ["entry 4: its content is of another kind", SAYS],
        4,
    ),
    "missing": ("DELETE FROM entries WHERE sequence = 4", ["entry 4: missing; the next one is 5"], 4),
    "moved": ("UPDATE entries SET previous = 'x' WHERE sequence = 4", ["entry 4: it does not follow on the entry before"], 4),
    "edited": ("UPDATE entries SET data = x'7b7d' WHERE sequence = 4", ["entry 4: its hash is not that of its content"], 4),
    "no entry": (anew(4, '"author"', '"autor"'), ["entry 4: it is no entry (Object contains unknown field `autor`)"], 4),
    "not canonical": (anew(4, '","', '", "'), ["entry 4: its bytes are not in canonical form"], 4),
    "other number": (anew(4, '"sequence":4', '"sequence":6'), ["entry 4: it belongs elsewhere"], 4),
    "other book": (anew(4, NAME, "f" * 32), ["entry 4: it belongs elsewhere"], 4),
    "other key": ("UPDATE entries SET request_key = 'x' WHERE sequence = 4", ["entry 4: its columns do not say what it says"], 4),
    "superseding in the column": (
        "UPDATE entries SET supersedes = 2 WHERE sequence = 4", ["entry 4: its columns do not say what it says"], 4,
    ),
    "superseding in the entry": (
        anew(5, '"supersedes":1,', '"supersedes":2,'), ["entry 5: its columns do not say what it says"], 5,
    ),
    "attachment spoiled": (
        "UPDATE attachments SET content = CAST('skanned' AS BLOB)",
        ["entry 2: its attachment 'scan.pdf' is not what was kept", "entry 3: its attachment 'again.pdf' is not what was kept"],
        2,
    ),
    "attachment gone": (
        "DELETE FROM attachments",
        ["entry 2: its attachment 'scan.pdf' is missing", "entry 3: its attachment 'again.pdf' is missing"],
        2,
    ),
    "attachment of another size": (
        anew(3, '"size":7', '"size":8'), ["entry 3: its attachment 'again.pdf' is not what was kept"], 3,
    ),
    "another attachment": (
        "INSERT INTO attachments VALUES (printf('%064d', 0), x'00')", ["the attachment 000000000000 is not what was kept"], None,
    ),
    "event moved": ("UPDATE events SET previous = 'x' WHERE sequence = 2", ["event 2 does not follow on the one before"], None),
    "event gone": ("DELETE FROM events WHERE sequence = 1", ["event 1 does not follow on the one before"], None),
    "event edited": ("UPDATE events SET data = x'7b7d' WHERE sequence = 1", ["event 1: its hash is not that of its content"], None),
    "event of another kind": (
        loosened("events", "UPDATE events SET data = 'x' WHERE sequence = 2"),
        ["event 2: its hash is not that of its content", SAYS],
        None,
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_with_a_book(file: Path, name: str) -> None:
    change, problems, first_bad = WRONG[name]
    changed(file, change)
    entries = 4 if name == "missing" else 5
    found = walked(file)
    # What SQLite itself says of a value of another kind differs from version to version.
    told = tuple(SAYS if one.startswith(SAYS) else one for one in found.problems)
    assert replace(found, problems=told) == Verified(entries, head_of(file, 5), tuple(problems), first_bad)


def superseding(number: int, supersedes: int, of: int) -> Change:
    """A correction of an entry, or of none, in the place of one that is there; the chain holds."""

    def change(database: sqlite3.Connection) -> None:
        ((own,),) = database.execute("SELECT hash FROM entries WHERE sequence = ?", (of,)).fetchall()
        anew(
            number,
            '"subject":"book"',
            f'"subject":"book","supersedes":{supersedes},"supersedes_hash":"{own}"',
        )(database)
        database.execute("DROP INDEX entries_supersedes")
        database.execute("UPDATE entries SET supersedes = ? WHERE sequence = ?", (supersedes, number))

    return change


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (superseding(4, 2, 2), None),
        (superseding(4, 3, 2), "entry 4: it supersedes an entry 3 that is not there"),
        (superseding(4, 4, 2), "entry 4: it supersedes an entry 4 that is not there"),
        (superseding(4, 0, 2), "entry 4: it supersedes an entry 0 that is not there"),
        (superseding(4, 1, 1), "entry 5: it supersedes entry 1, as another did before"),
    ],
)
def test_what_a_correction_says_of_another_entry(file: Path, change: Change, problem: str | None) -> None:
    changed(file, change)
    found = walked(file)
    number = int(problem.split()[1].rstrip(":")) if problem else None
    assert (found.problems, found.first_bad) == ((problem,) if problem else (), number)


def test_a_signature_under_a_text_that_was_not_shown(quick_desk: Desk) -> None:
    job.begun(quick_desk.book)
    plan = {
        "job": "J-1",
        "rules": "us-part-43",
        "completed": "2031-05-03",
        "performed_by": "Ada",
        "work": "w",
    }
    record = quick_desk.add("record", {**plan, "text": "shown"}).sequence
    signed = {
        "name": "Bea",
        "certificate_number": "1",
        "certificate_kind": "mechanic",
        "meaning": "performed",
    }
    shown = hashlib.sha256(b"shown").hexdigest()
    release.take_signature(quick_desk.book, record, {**signed, "shown_sha256": shown}, job.BEA)
    quick_desk.book.close()
    file = Path(quick_desk.book.store.place)
    assert walked(file).sound
    changed(file, anew(record, '"text":"shown"', '"text":"other"'))
    problem = f"entry {record + 1}: its signature does not fit the record {record}"
    assert walked(file) == Verified(record + 1, head_of(file, record + 1), (problem,), record + 1)


def test_a_head_that_was_kept_is_found_in_the_chain_or_missed(file: Path) -> None:
    missed = "the head that was given is not in this book: entries were cut off, or all was written anew"
    for number in (1, 3, 5):
        for head in (head_of(file, number), chain.short(head_of(file, number))):
            assert walked(file, head) == Verified(5, head_of(file, 5), (), None, number)
    assert walked(file, chain.genesis(NAME)).head_entry == 0
    assert walked(file, "0" * 64) == Verified(5, head_of(file, 5), (missed,))
    wanted = head_of(file, 3)
    changed(file, "UPDATE entries SET request_key = 'x' WHERE sequence = 3")
    assert walked(file, wanted).problems == ("entry 3: its columns do not say what it says", missed)


def test_of_many_findings_the_first_twenty_are_named(quick_desk: Desk) -> None:
    for number in range(25):
        quick_desk.add("note", {"text": f"{number}"})
    quick_desk.book.close()
    file = Path(quick_desk.book.store.place)
    changed(file, "UPDATE entries SET request_key = 'x' || sequence WHERE sequence > 2")
    found = walked(file)
    assert found.problems == tuple(
        f"entry {number}: its columns do not say what it says" for number in range(3, 23)
    )
    assert found.first_bad == 3


def test_a_page_that_cannot_be_read_is_told_with_the_entry_at_which_the_walk_ended(quick_desk: Desk) -> None:
    for number in range(60):
        quick_desk.add("note", {"text": f"note {number} " * 100})
    quick_desk.book.close()
    file = Path(quick_desk.book.store.place)
    whole = file.read_bytes()
    content = bytearray(whole)
    half = len(content) // 2 // 4096 * 4096
    content[half : half + 8192] = b"\xff" * 8192
    file.write_bytes(content)
    found = walked(file)
    assert 0 < found.entries < 60
    first = f"entry {found.entries + 1} cannot be read: It is damaged (database disk image is malformed)"
    assert (found.problems[0], found.first_bad) == (first, found.entries + 1)
    assert len(found.problems) > 1
    file.write_bytes(whole[:4096] + b"\xff" * (len(whole) - 4096))
    with pytest.raises(DamagedBookError) as caught:
        walked(file)
    said = "It is damaged (database disk image is malformed). See what can be saved: leanwright book recover."
    assert str(caught.value) == f"{file}: {said}"


SAVED: dict[str, tuple[tuple[Change | str, ...], int, list[str]]] = {
    "missing": (("DELETE FROM entries WHERE sequence = 4",), 3, ["the entries 4 to 5 are missing or not carried over"]),
    "the last is missing": (("DELETE FROM entries WHERE sequence = 5",), 4, []),
    "no entry": (
        (anew(4, '"author"', '"autor"'),),
        3,
        ["from entry 4 on: it is no entry (Object contains unknown field `autor`)", "the entries 4 to 5 are missing or not carried over"],
    ),
    "moved": (
        ("UPDATE entries SET previous = 'x' WHERE sequence = 5",),
        4,
        ["from entry 5 on: its hash is not that of its content", "the entries 5 to 5 are missing or not carried over"],
    ),
    "other number": (
        (anew(5, '"sequence":5', '"sequence":6'),),
        4,
        ["from entry 5 on: it belongs elsewhere", "the entries 5 to 5 are missing or not carried over"],
    ),
    "other book": (
        (anew(5, NAME, "f" * 32),),
        4,
        ["from entry 5 on: it belongs elsewhere", "the entries 5 to 5 are missing or not carried over"],
    ),
    "attachment": (
        ("UPDATE attachments SET content = x'00'",),
        1,
        ["from entry 2 on: its attachment 'scan.pdf' is damaged", "the entries 2 to 5 are missing or not carried over"],
    ),
    "no entry at all": (("DELETE FROM entries",), 0, []),
    "no name of its own": (("DELETE FROM meta",), 5, []),
    "no table of names": (("DROP TABLE meta",), 5, []),
}  # fmt: skip


@pytest.mark.parametrize("name", SAVED)
def test_what_is_saved_of_a_damaged_book_and_what_is_lost(file: Path, name: str) -> None:
    changes, kept, losses = SAVED[name]
    heads = [chain.genesis(NAME), *(head_of(file, number) for number in range(1, 6))]
    spoiled(file)
    changed(file, *changes)
    folder = file.parent / "saved"
    (folder / "attachments").mkdir(parents=True)
    store = sqlite.open_file(file, read_only=True)
    told = rescue.save(store, safekeeping._folder_sink(folder))
    entries = [
        bytes(row[0])
        for row in sqlite3.connect(file).execute(
            "SELECT data FROM entries ORDER BY sequence LIMIT ?", (kept,)
        )
    ]
    store.close()
    assert told == (*losses, EVENTS)
    lines = b"".join(data + b"\n" for data in entries)
    assert (folder / "entries.jsonl").read_bytes() == lines
    assert (folder / "events.jsonl").read_bytes() == b""
    assert json.loads((folder / "manifest.json").read_bytes()) == {
        "format": "leanwright/book-export/1",
        "ledger": NAME,
        "head": heads[kept],
        "entries": kept,
        "entries_sha256": hashlib.sha256(lines).hexdigest(),
        "events": 0,
        "events_sha256": hashlib.sha256(b"").hexdigest(),
        "attachments": [{"sha256": SCAN, "size": 7}] if kept > 1 else [],
        "program": "recovered",
        "made": "recovered",
    }
    if kept > 1:
        assert (folder / "attachments" / SCAN).read_bytes() == b"scanned"


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        (("DELETE FROM meta", "DELETE FROM entries"), "There is nothing in it"),
        (("DELETE FROM meta", "UPDATE entries SET data = x'7b7d'"), "Nothing in it can be read"),
        (("DROP TABLE meta", "DROP TABLE entries"), "Nothing in it can be read"),
    ],
)
def test_of_what_nothing_is_saved(file: Path, changes: tuple[str, ...], reason: str) -> None:
    spoiled(file, *changes)
    with pytest.raises(UnusableBookError) as caught:
        safekeeping.recover(str(file), str(file.with_name("saved.sqlite")))
    assert str(caught.value) == f"{file}: {reason}. Take the last backup."
