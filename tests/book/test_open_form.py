"""The open form of a book and the backup that holds it: what is written, and all that is refused of them, word for word."""

import hashlib
import json
import re
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from leanwright.book import backup, ledger, portable
from leanwright.book.canonical import canonical
from leanwright.book.ledger import MOST_ATTACHMENT_BYTES, File
from leanwright.book.stores import sqlite
from leanwright.errors import LeanwrightError, UnusableBackupError, UnwritablePlaceError
from leanwright.workbench import safekeeping
from tests.book.conftest import NAME, Desk, SetClock

LAST = "Nothing was restored from it; use another one."
SCAN = hashlib.sha256(b"scanned").hexdigest()
MADE = "2031-05-03T12:00:00Z"
Change = Callable[["Export"], object]


class Export:
    """An export that is changed: its lines, and its list of contents, which is set right after them."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.list = json.loads((folder / "manifest.json").read_bytes())

    def lines(self, name: str) -> list[bytes]:
        """The lines of a file."""
        return (self.folder / name).read_bytes().split(b"\n")[:-1]

    def write(self, name: str, content: bytes, **listed: Any) -> None:
        """Put other bytes in the place of a file, and change the list."""
        (self.folder / name).write_bytes(content)
        self.say(**listed)

    def say(self, **listed: Any) -> None:
        """Say something else in the list."""
        (self.folder / "manifest.json").write_text(json.dumps({**self.list, **listed}), "utf-8")

    def entry(self, number: int, old: bytes, new: bytes) -> None:
        """Change the bytes of an entry."""
        lines = self.lines("entries.jsonl")
        assert old in lines[number - 1]
        lines[number - 1] = lines[number - 1].replace(old, new)
        self.write("entries.jsonl", b"\n".join([*lines, b""]))


@pytest.fixture
def desk(quick_desk: Desk) -> Desk:
    """A book of three entries, one attachment and two events."""
    quick_desk.add("note", {"text": "eins"})
    for text in ("scan", "again"):
        quick_desk.add("attachment", {"text": text}, files=(File("scan.pdf", b"scanned"),))
    quick_desk.book.note_event("test", {"what": "é"})
    quick_desk.book.note_event("test", {})
    return quick_desk


@pytest.fixture
def export(desk: Desk, quick: Path) -> Export:
    """Its export."""
    safekeeping.export(desk.book, quick / "out")
    return Export(quick / "out")


def test_an_export_is_the_bytes_that_were_hashed_and_a_list_of_them(desk: Desk, export: Export) -> None:
    entries, events = ((export.folder / name).read_bytes() for name in ("entries.jsonl", "events.jsonl"))
    assert entries == b"".join(data + b"\n" for _, _, data in desk.bodies())
    assert [json.loads(line)["sequence"] for line in events.splitlines()] == [1, 2]
    assert (export.folder / "attachments" / SCAN).read_bytes() == b"scanned"
    wanted = {
        "format": "leanwright/book-export/1",
        "ledger": NAME,
        "head": desk.book.head(),
        "entries": 3,
        "entries_sha256": hashlib.sha256(entries).hexdigest(),
        "events": 2,
        "events_sha256": hashlib.sha256(events).hexdigest(),
        "attachments": [{"sha256": SCAN, "size": 7}],
        "program": "leanwright test",
        "made": MADE,
    }
    assert (export.folder / "manifest.json").read_bytes() == canonical(wanted) + b"\n"
    names = {str(one.relative_to(export.folder)) for one in export.folder.rglob("*") if one.is_file()}
    assert names == {"entries.jsonl", "events.jsonl", "manifest.json", "readable.txt", f"attachments/{SCAN}"}


def drop_last(name: str) -> Change:
    """Leave out the last line of a file."""
    return lambda export: export.write(name, b"\n".join([*export.lines(name)[:-1], b""]))


SMALLER = {"attachments": [{"sha256": SCAN, "size": 6}]}
DAMAGED: dict[str, tuple[Change, str]] = {
    "no list": (lambda export: (export.folder / "manifest.json").unlink(), "Its list of contents (manifest.json) is missing or cannot be read"),
    "no such list": (lambda export: (export.folder / "manifest.json").write_bytes(b"[]"), ""),
    "form": (lambda export: export.say(format="leanwright/export/9"), "It has the form 'leanwright/export/9', which this program does not know"),
    "head": (lambda export: export.say(head="0" * 64), "Its last entry is not the one that its list names"),
    "no attachment": (lambda export: (export.folder / "attachments" / SCAN).unlink(), f"attachments/{SCAN} is missing"),
    "other attachment": (lambda export: export.write(f"attachments/{SCAN}", b"skanned"), f"The attachment {SCAN[:12]} is not what was kept"),
    "longer attachment": (lambda export: export.write(f"attachments/{SCAN}", b"scanned!"), f"The attachment {SCAN[:12]} is not what was kept"),
    "shorter by the list": (lambda export: export.say(**SMALLER), f"The attachment {SCAN[:12]} is not what was kept"),
    "not listed": (lambda export: export.say(attachments=[]), "Entry 2 lacks its attachment 'scan.pdf'"),
    "no entries": (lambda export: (export.folder / "entries.jsonl").unlink(), "entries.jsonl is missing"),
    "no events": (lambda export: (export.folder / "events.jsonl").unlink(), "events.jsonl is missing"),
    "cut off": (lambda export: export.write("entries.jsonl", b"\n".join(export.lines("entries.jsonl"))), "entries.jsonl is cut off or has an endless line"),
    "endless": (lambda export: export.write("events.jsonl", b" " * (portable.MOST_LINE + 1) + b"\n"), "events.jsonl is cut off or has an endless line"),
    "longest": (lambda export: export.write("events.jsonl", b" " * (portable.MOST_LINE - 1) + b"\n"), "Its events are not those that were written"),
    "fewer entries": (drop_last("entries.jsonl"), "It should hold 3 entries, and holds 2 or others"),
    "other count": (lambda export: export.say(entries=4), "It should hold 4 entries, and holds 3 or others"),
    "other digest": (lambda export: export.say(entries_sha256="0" * 64), "It should hold 3 entries, and holds 3 or others"),
    "none of the entries": (lambda export: export.write("entries.jsonl", b""), "It should hold 3 entries, and holds 0 or others"),
    "fewer events": (drop_last("events.jsonl"), "Its events are not those that were written"),
    "other count of events": (lambda export: export.say(events=3), "Its events are not those that were written"),
    "other digest of events": (lambda export: export.say(events_sha256="0" * 64), "Its events are not those that were written"),
    "no JSON": (lambda export: export.entry(1, b'{"author"', b'["author"'), "Line 1 is no entry (Expected `object`, got `array`)"),
    "no such kind": (lambda export: export.entry(1, b'"kind":"note"', b'"kind":"poem"'), "Line 1 is no entry ('poem')"),
    "not of its kind": (lambda export: export.entry(1, b'"text":"eins"', b'"text":""'), "Line 1 is no entry (Expected `str` of length >= 1 - at `$.text`)"),
    "not canonical": (lambda export: export.entry(2, b'","', b'", "'), "Entry 2 does not follow on the one before"),
    "other number": (lambda export: export.entry(2, b'"sequence":2', b'"sequence":3'), "Entry 2 does not follow on the one before"),
    "other book": (lambda export: export.entry(2, NAME.encode(), b"f" * 32), "Entry 2 does not follow on the one before"),
    "other before": (lambda export: export.entry(1, b"eins", b"zwei"), "Entry 2 does not follow on the one before"),
}  # fmt: skip


@pytest.mark.parametrize("name", DAMAGED)
def test_what_is_wrong_with_an_export(export: Export, quick: Path, name: str) -> None:
    change, reason = DAMAGED[name]
    change(export)
    with pytest.raises(UnusableBackupError) as caught:
        safekeeping.import_folder(export.folder, str(quick / "new.sqlite"))
    said = reason or DAMAGED["no list"][1]
    assert str(caught.value) == f"out: {said}. {LAST}"
    assert not (quick / "new.sqlite").exists()


def test_an_export_goes_into_an_empty_book_of_its_own_name_only(
    desk: Desk, export: Export, quick: Path
) -> None:
    source = safekeeping._folder_source(export.folder)
    manifest = portable.read_manifest(source, "out")
    with pytest.raises(UnusableBackupError) as caught, desk.book.store.writing() as connection:
        portable.read_into(connection, source, manifest, "out")
    assert caught.value.reason == "It does not belong into this book"
    restored = safekeeping.import_folder(export.folder, str(quick / "new.sqlite"))
    assert (restored.place, restored.manifest) == (str(quick / "new.sqlite"), manifest)
    store = sqlite.open_file(quick / "new.sqlite")
    with store.reading() as there, desk.book.store.reading() as here:
        for table in ("meta", "entries", "attachments", "events"):
            query = sa.text(f"SELECT * FROM {table}")  # noqa: S608  names of our own tables
            assert there.execute(query).all() == here.execute(query).all()
    store.close()


def sealed(file: Path, members: dict[str, Any], **more: Any) -> Path:
    """A backup with any members, its digest right."""
    with file.open("wb") as stream, zipfile.ZipFile(stream, "w", **more) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return redigested(file, file.read_bytes())


def redigested(file: Path, content: bytes) -> Path:
    """A file with the first line of a backup before some bytes."""
    file.write_bytes(backup.MARK + hashlib.sha256(content).hexdigest().encode() + b"\n" + content)
    return file


def refused(file: Path) -> str:
    """Why a backup is refused."""
    with pytest.raises(UnusableBackupError) as caught:
        backup.read_manifest(file)
    assert caught.value.place == file.name
    assert str(caught.value).endswith(f" {LAST}")
    return str(caught.value.reason)


def test_a_backup_is_a_line_with_the_digest_and_the_open_form_as_a_zip_archive(
    desk: Desk, quick: Path
) -> None:
    safekeeping.back_up(desk.book, quick / "kept.backup")
    content = (quick / "kept.backup").read_bytes()
    line, rest = content[:85], content[85:]
    assert line == f"leanwright backup 1 {hashlib.sha256(rest).hexdigest()}\n".encode()
    with zipfile.ZipFile(quick / "kept.backup") as archive:
        members = {one.filename: (one.date_time, one.compress_type) for one in archive.infolist()}
        assert archive.testzip() is None
    names = ["entries.jsonl", "events.jsonl", f"attachments/{SCAN}", "manifest.json"]
    assert members == dict.fromkeys(names, ((1980, 1, 1, 0, 0, 0), zipfile.ZIP_STORED))
    # Written again, the same book at the same time gives the same bytes; nothing is left beside it.
    backup.write(desk.book.store, quick / "again.backup", program="leanwright test", made=MADE)
    backup.write(desk.book.store, quick / "third.backup", program="leanwright test", made=MADE)
    assert (quick / "again.backup").read_bytes() == (quick / "third.backup").read_bytes()
    assert sorted(one.name for one in quick.iterdir() if "backup" in one.name) == [
        "again.backup",
        "kept.backup",
        "third.backup",
    ]


LIST = {"entries.jsonl": b"", "events.jsonl": b"", "manifest.json": b"{}"}


def test_a_backup_that_is_not_whole_yet_is_hidden_beside_its_place_and_bears_its_name(
    desk: Desk, quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What a power cut leaves there cannot be taken for a backup, and tells what it was to become."""
    before = set(quick.iterdir())
    unfinished: list[str] = []
    write = portable.write

    def looked_at(*given: Any, **more: Any) -> portable.Manifest:
        unfinished.extend(one.name for one in set(quick.iterdir()) - before)
        return write(*given, **more)

    monkeypatch.setattr(portable, "write", looked_at)
    backup.write(desk.book.store, quick / "kept.backup", program="t", made=MADE)
    (name,) = unfinished
    assert re.fullmatch(r"\.kept\.backup-\w+", name)
    assert {one.name for one in set(quick.iterdir()) - before} == {"kept.backup"}


def test_what_is_wrong_with_a_backup(quick: Path) -> None:
    place = quick / "b.backup"
    place.write_bytes(b"leanwright backup 2 " + b"0" * 65)
    assert not backup.is_backup(place)
    assert refused(place) == "This is no backup of a book"
    place.write_bytes(backup.MARK + b"0" * 64 + b"\nmore")
    assert backup.is_backup(place)
    assert refused(place) == "It is damaged: its content is not what was written"
    assert refused(redigested(place, b"no archive")) == "It is damaged (File is not a zip file)"
    assert refused(quick / "none.backup") == "It cannot be read (No such file or directory)"
    assert not backup.is_backup(quick / "none.backup")
    unread = "Its list of contents (manifest.json) is missing or cannot be read"
    assert (
        refused(sealed(place, LIST)) == refused(sealed(place, {**LIST, f"attachments/{SCAN}": b""})) == unread
    )
    other_things = "It holds other things than a book"
    for name in (
        "readme.txt",
        "attachments/",
        f"attachments/{SCAN[:-1]}",
        f"attachments/{SCAN.upper()}",
        f"attachments/{SCAN[:-1]}g",
        SCAN,
    ):
        assert refused(sealed(place, {**LIST, name: b""})) == other_things
    with zipfile.ZipFile(place, "w") as archive:
        archive.writestr("manifest.json", b"{}")
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr("manifest.json", b"{}")
    assert refused(redigested(place, place.read_bytes())) == other_things


def test_what_a_backup_never_holds_is_refused_by_its_name(
    quick: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = quick / "b.backup"
    packed = "{} in it is packed in a way that a backup never is"
    tight = {"compression": zipfile.ZIP_DEFLATED, "compresslevel": 9}
    zeros = bytes((1 << 20) + 1)
    assert refused(sealed(place, {**LIST, "events.jsonl": zeros}, **tight)) == packed.format("events.jsonl")
    unread = refused(sealed(place, LIST))
    assert refused(sealed(place, {**LIST, "events.jsonl": zeros[:-1]}, **tight)) == unread
    assert refused(sealed(place, {**LIST, "events.jsonl": zeros})) == unread
    assert refused(sealed(place, LIST, compression=zipfile.ZIP_BZIP2)) == packed.format("entries.jsonl")
    assert refused(sealed(place, LIST, compression=zipfile.ZIP_DEFLATED)) == unread
    large = bytes(MOST_ATTACHMENT_BYTES)
    named = f"attachments/{SCAN}"
    assert refused(sealed(place, {**LIST, named: large})) == unread
    assert refused(sealed(place, {**LIST, named: large + b"0"})) == packed.format(named)
    sealed(place, LIST)
    content = bytearray(place.read_bytes()[85:])
    content[content.index(b"PK\x01\x02") + 8] |= 1  # the flag that says encrypted (APPNOTE 6.3.10, 4.4.4)
    assert refused(redigested(place, bytes(content))) == packed.format("entries.jsonl")
    monkeypatch.setattr(backup, "MOST_MEMBERS", 3)
    assert refused(sealed(place, LIST)) == unread
    assert refused(sealed(place, {**LIST, named: b""})) == "It holds other things than a book"


def test_where_no_backup_is_written(desk: Desk, quick: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    other = quick / "photo.jpg"
    other.write_bytes(b"a picture")

    def said(file: Path) -> str:
        with pytest.raises(UnwritablePlaceError) as caught:
            backup.write(desk.book.store, file, program="t", made=MADE)
        assert caught.value.place == file
        return caught.value.reason

    assert said(other) == "there is another file already"
    assert said(quick / "nowhere" / "b.backup") == "No such file or directory"
    strange = ledger.make(sqlite.make_file(quick / "strange.sqlite"), "f" * 32, SetClock(), "t")
    backup.write(strange.store, quick / "strange.backup", program="t", made=MADE)
    strange.close()
    assert said(quick / "strange.backup") == "it is the backup of another book"
    with monkeypatch.context() as patch:
        patch.setattr(backup, "read_manifest", lambda _file: None)
        assert said(quick / "unread.backup") == "what was read back is not what was written"
    assert not (quick / "unread.backup").exists()
    (quick / "folder").mkdir()
    assert said(quick / "folder") == "there is another file already"
    backup.write(desk.book.store, quick / "b.backup", program="t", made=MADE)
    damaged = backup.MARK + b"0" * 64
    (quick / "b.backup").write_bytes(damaged)
    backup.write(desk.book.store, quick / "b.backup", program="t", made=MADE)
    assert backup.read_manifest(quick / "b.backup").entries == 3
    long = quick / ("b" * 200)
    backup.write(desk.book.store, long, program="t", made=MADE)
    assert long.exists()


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ("DELETE FROM entries WHERE sequence = 2", "entry 2: missing; the next one is 3"),
        (
            "UPDATE entries SET previous = 'x' WHERE sequence = 2",
            "entry 2: it does not follow on the entry before",
        ),
        ("UPDATE entries SET hash = 'x' WHERE sequence = 3", "entry 3: its hash is not that of its content"),
        ("UPDATE attachments SET content = x'00'", f"the attachment {SCAN[:12]} is not what was kept"),
    ],
)
def test_why_a_damaged_book_is_neither_exported_nor_backed_up(
    desk: Desk, quick: Path, change: str, reason: str
) -> None:
    with desk.book.store.writing() as connection:
        for (name,) in connection.exec_driver_sql(
            "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        ).all():
            connection.exec_driver_sql(f"DROP TRIGGER {name}")
        connection.exec_driver_sql(change)
    place = desk.book.store.place
    said = f"{place}: It is not sound ({reason}). See what can be saved: leanwright book recover."
    for action in (
        lambda: safekeeping.export(desk.book, quick / "out"),
        lambda: safekeeping.back_up(desk.book, quick / "kept.backup"),
    ):
        with pytest.raises(LeanwrightError) as caught:
            action()
        assert str(caught.value) == said
    assert not (quick / "kept.backup").exists()
