"""Backups, exports, restoring, recovering, upgrading: whole or refused, and never over something that is there."""

import json
import random
import sqlite3
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from leanwright.book import backup, ledger, schema
from leanwright.book.ledger import File, Ledger
from leanwright.book.stores import sqlite
from leanwright.book.verify import verify
from leanwright.errors import (
    LeanwrightError,
    RefusedEntryError,
    UnusableBackupError,
    UnusableBookError,
    UnwritablePlaceError,
)
from leanwright.workbench import records, safekeeping
from tests.book.conftest import NAME, Desk, SetClock
from tests.references import verify_book


@pytest.fixture
def filled(desk: Desk) -> Desk:
    """A book with entries, a correction, an attachment and an event, on both databases."""
    desk.add("engine", {"id": "E1", "cylinders": 6})
    desk.add("attachment", {"text": "scan"}, files=(File("scan.pdf", random.Random(1).randbytes(5000)),))  # noqa: S311  no secret
    desk.add("note", {"text": "Grüße\nzwei Zeilen"})
    desk.add("note", {"text": "better"}, supersedes=3, reason="typing")
    desk.book.note_event("test", {"what": "é"})
    return desk


def head_at(place: str) -> tuple[str, bool]:
    """Head of the book at a place, and whether it is sound."""
    found = safekeeping.check(place)
    return found.head, found.sound


def test_an_export_makes_the_same_book_on_both_databases(filled: Desk, folder: Path, cluster: object) -> None:
    from tests.book.cluster import Cluster

    assert isinstance(cluster, Cluster)
    safekeeping.export(filled.book, folder / "out")
    assert verify_book.main(folder / "out", filled.book.head()) == 0
    for place in (str(folder / "new.sqlite"), cluster.address(cluster.new_place())):
        restored = safekeeping.import_folder(folder / "out", place)
        assert head_at(place) == (filled.book.head(), True)
        again = records.open_book(place)
        safekeeping.export(again, folder / f"out-{len(place)}")
        again.close()
        first, second = (
            (folder / name / "entries.jsonl").read_bytes() for name in ("out", f"out-{len(place)}")
        )
        assert first == second
        assert restored.manifest.entries == 4


def test_an_import_goes_into_an_empty_book_and_never_over_entries(filled: Desk, folder: Path) -> None:
    safekeeping.export(filled.book, folder / "out")
    place = str(folder / "new.sqlite")
    records.make_book(place).close()
    safekeeping.import_folder(folder / "out", place)
    assert head_at(place) == (filled.book.head(), True)
    with pytest.raises(UnusableBookError, match="already"):
        safekeeping.import_folder(folder / "out", place)
    with pytest.raises(UnwritablePlaceError, match="empty"):
        safekeeping.export(filled.book, folder / "out")


def test_a_backup_restores_to_the_same_book_and_overwrites_nothing(filled: Desk, folder: Path) -> None:
    manifest, _ = safekeeping.back_up(filled.book, folder / "kept.backup")
    assert manifest.head == filled.book.head()
    restored = safekeeping.restore(folder / "kept.backup", str(folder / "new.sqlite"))
    assert (restored.verified.sound, restored.verified.head) == (True, filled.book.head())
    assert restored.verified.entries == 4
    assert (folder / "new.sqlite").stat().st_mode & 0o777 == 0o600
    with pytest.raises(UnusableBookError, match="already"):
        safekeeping.restore(folder / "kept.backup", str(folder / "new.sqlite"))
    assert filled.book.events("backup")[0]["entries"] == 4


def test_a_backup_replaces_a_backup_but_no_other_file(filled: Desk, folder: Path) -> None:
    safekeeping.back_up(filled.book, folder / "kept.backup")
    safekeeping.back_up(filled.book, folder / "kept.backup")
    (folder / "photo.jpg").write_bytes(b"\xff\xd8 a picture")
    with pytest.raises(UnwritablePlaceError):
        safekeeping.back_up(filled.book, folder / "photo.jpg")
    assert (folder / "photo.jpg").read_bytes() == b"\xff\xd8 a picture"


@pytest.mark.promise("B2")
def test_a_drill_restores_compares_and_leaves_nothing_but_its_result(filled: Desk, folder: Path) -> None:
    before = sorted(one.name for one in folder.iterdir())
    assert safekeeping.drill(filled.book).verified.sound
    assert filled.book.events("drill")[0]["sound"] is True
    assert sorted(one.name for one in folder.iterdir()) == before


@pytest.mark.promise("B3")
def test_a_backup_with_one_changed_bit_or_cut_short_is_refused_before_anything_is_written(
    file_desk: Desk, folder: Path
) -> None:
    file_desk.add("attachment", {"text": "a"}, files=(File("b", bytes(3000)),))
    safekeeping.back_up(file_desk.book, folder / "kept.backup")
    good = (folder / "kept.backup").read_bytes()
    bad = folder / "bad.backup"
    draw = random.Random(9)  # noqa: S311  draws of a test, no secrets
    for trial in range(300):
        spoiled = bytearray(good)
        if trial % 5 == 4:
            del spoiled[draw.randrange(len(good)) :]
        else:
            spoiled[draw.randrange(len(good))] ^= 1 << draw.randrange(8)
        bad.write_bytes(spoiled)
        with pytest.raises(UnusableBackupError):
            safekeeping.restore(bad, str(folder / "new.sqlite"))
    assert sorted(one.name for one in folder.iterdir() if one.name.startswith((".", "new"))) == []


def repacked(good: Path, bad: Path, change: Callable[[dict[str, bytes]], object]) -> None:
    """A backup with other members and a digest that fits them: damage is not the only danger."""
    with zipfile.ZipFile(good) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    with bad.open("w+b") as stream:
        stream.write(backup.MARK + b"0" * 64 + b"\n")
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in members.items():
                archive.writestr(name, content)
        digest = backup._digest(stream)
        stream.seek(len(backup.MARK))
        stream.write(digest.encode())


@pytest.mark.promise("B3")
@pytest.mark.parametrize(
    "change",
    [
        lambda members: members.update({"../outside": b"x"}),
        lambda members: members.update({"attachments/" + "0" * 64: bytes(11_000_000)}),
        lambda members: members.update({"entries.jsonl": members["entries.jsonl"].replace(b"eins", b"EINS")}),
        lambda members: members.update({"entries.jsonl": bytes(400_000_000)}),
        lambda members: members.update({"entries.jsonl": b""}),
        lambda members: members.update({"manifest.json": b"{}"}),
        lambda members: members.pop("events.jsonl"),
    ],
)
def test_a_backup_made_to_do_harm_is_refused(
    file_desk: Desk, folder: Path, change: Callable[[dict[str, bytes]], object]
) -> None:
    file_desk.add("note", {"text": "eins"})
    safekeeping.back_up(file_desk.book, folder / "kept.backup")
    repacked(folder / "kept.backup", folder / "bad.backup", change)
    with pytest.raises(UnusableBackupError):
        safekeeping.restore(folder / "bad.backup", str(folder / "new.sqlite"))
    assert not (folder / "new.sqlite").exists()
    assert not (folder.parent / "outside").exists()


def test_a_damaged_export_is_refused(file_desk: Desk, folder: Path) -> None:
    file_desk.add("note", {"text": "eins"})
    file_desk.add("note", {"text": "zwei"})
    safekeeping.export(file_desk.book, folder / "out")
    lines = (folder / "out" / "entries.jsonl").read_bytes()
    for spoiled in (lines.replace(b"zwei", b"drei"), lines[:-1], lines.split(b"\n")[0] + b"\n", lines * 2):
        (folder / "out" / "entries.jsonl").write_bytes(spoiled)
        with pytest.raises(UnusableBackupError):
            safekeeping.import_folder(folder / "out", str(folder / "new.sqlite"))
    assert not (folder / "new.sqlite").exists()


def test_recover_saves_what_stands_before_the_damage(file_desk: Desk, folder: Path) -> None:
    for number in range(10):
        file_desk.add("note", {"text": f"note {number}"})
    sixth = file_desk.book.entry(6)[0].hash
    file_desk.book.close()
    database = sqlite3.connect(folder / "book.sqlite")
    database.execute("DROP TRIGGER entries_no_update")
    database.execute("UPDATE entries SET data = x'7b7d' WHERE sequence = 7")
    database.commit()
    database.close()
    before = (folder / "book.sqlite").read_bytes()
    restored, losses = safekeeping.recover(str(folder / "book.sqlite"), str(folder / "saved.sqlite"))
    assert head_at(str(folder / "saved.sqlite")) == (sixth, True)
    assert restored.manifest.entries == 6
    assert losses[0] == "from entry 7 on: its hash is not that of its content"
    assert (folder / "book.sqlite").read_bytes() == before


def older(folder: Path) -> tuple[Path, str]:
    """A book of the first form with an entry, as the first version left it; and its head."""
    store = sqlite.make_file(folder / "old.sqlite")
    schema.migrate(store, "0001")
    import sqlalchemy as sa

    from leanwright.book.stores import tables

    with store.writing() as connection:
        connection.execute(sa.insert(tables.META), [{"name": "ledger", "value": NAME}])
    book = ledger.open_ledger(store, SetClock(), "t")
    head = Desk(book, SetClock()).add("note", {"text": "old"}).hash
    store.close()
    return folder / "old.sqlite", head


@pytest.mark.promise("B4")
def test_a_book_of_an_older_form_is_copied_checked_and_brought_forward(folder: Path) -> None:
    place, head = older(folder)
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
    import sqlalchemy as sa

    from leanwright.book.stores import postgresql, tables

    monkeypatch.setenv("XDG_DATA_HOME", str(folder))
    store = postgresql.open_address(database)
    schema.migrate(store, "0001")
    with store.writing() as connection:
        connection.execute(sa.insert(tables.META), [{"name": "ledger", "value": NAME}])
    head = Desk(ledger.open_ledger(store, SetClock(), "t"), SetClock()).add("note", {"text": "old"}).hash
    store.close()
    book = records.open_book(database)
    assert (book.head(), schema.form_of(book.store)) == (head, schema.NEWEST)
    book.close()
    kept = list((folder / "leanwright").glob("*.form-0001.backup"))
    assert [backup.read_manifest(one).head for one in kept] == [head]


def test_a_book_of_an_older_form_that_is_damaged_is_left_as_it_is(folder: Path) -> None:
    place, _ = older(folder)
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


@pytest.mark.parametrize(
    "content", [b"", b"\x89PNG\r\n\x1a\n" + bytes(500), b"SQLite format 3\x00" + bytes(100), b"text"]
)
def test_what_is_no_book_is_told_in_a_sentence(folder: Path, content: bytes) -> None:
    place = folder / "picture.png"
    place.write_bytes(content)
    place.chmod(0o600)
    for action in (
        records.open_book,
        safekeeping.check,
        lambda name: safekeeping.recover(name, str(folder / "new")),
    ):
        with pytest.raises(LeanwrightError) as caught:
            action(str(place))
        assert "\n" not in str(caught.value)
    assert place.read_bytes() == content


def test_a_mistyped_head_is_told_from_a_head_that_is_not_there(file_desk: Desk, folder: Path) -> None:
    file_desk.add("note", {"text": "a"})
    place = str(folder / "book.sqlite")
    head = safekeeping.verify_document(safekeeping.check(place))["head"]
    assert safekeeping.check(place, head).head_entry == 1
    with pytest.raises(RefusedEntryError, match="check digits"):
        safekeeping.check(place, head[:-1] + ("0" if head[-1] != "0" else "1"))


@pytest.mark.promise("B1")
def test_the_backup_is_written_while_others_write(folder: Path) -> None:
    import threading

    place = str(folder / "book.sqlite")
    records.make_book(place).close()
    stop = threading.Event()

    def busy() -> None:
        book: Ledger = records.open_book(place)
        while not stop.is_set():
            records.add(book, "note", {"text": "a"})
        book.close()

    writers = [threading.Thread(target=busy) for _ in range(3)]
    for one in writers:
        one.start()
    book = records.open_book(place)
    try:
        for number in range(8):
            saved = records.add(book, "note", {"text": "before the backup"}).sequence
            safekeeping.back_up(book, folder / "kept.backup")
            restored = safekeeping.restore(folder / "kept.backup", str(folder / f"new{number}.sqlite"))
            assert restored.verified.sound
            assert restored.manifest.entries >= saved
    finally:
        stop.set()
        for one in writers:
            one.join()
        book.close()
    assert json.loads(json.dumps(safekeeping.verify_document(safekeeping.check(place))))["sound"] is True
