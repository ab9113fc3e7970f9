"""Backups, exports, restoring, recovering: whole or refused, and never over something that is there."""

import random
import sqlite3
import time
from datetime import date
from pathlib import Path

import pytest

from benchmarks import book as large
from leanwright import read_recording
from leanwright.book.ledger import MOST_ATTACHMENT_BYTES, File, Ledger, open_ledger
from leanwright.book.stores import sqlite
from leanwright.errors import (
    DamagedBookError,
    LeanwrightError,
    RefusedEntryError,
    UnusableBackupError,
    UnusableBookError,
    UnwritablePlaceError,
)
from leanwright.report.document import balance_document
from leanwright.workbench import records, safekeeping, sheets
from leanwright.workbench.invent import write_first_flight
from leanwright.workbench.measure import measure
from leanwright.workbench.standing import status
from leanwright.workbench.writing import write_whole
from tests.book.conftest import Desk, SetClock
from tests.faults.promises import TrialRun
from tests.references import verify_book
from tests.workbench import sheet_book

LARGE, LARGE_IN_SAMPLE = (100_000, 100), (1_000, 1)
"""How many entries a large book has, and attachments of the most bytes that one may have."""
MOST_S = 60.0


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


@pytest.mark.promise("B2")
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
def test_canary_a_changed_backup_is_refused(filled: Desk, folder: Path) -> None:
    safekeeping.back_up(filled.book, folder / "kept.backup")
    assert safekeeping.restore(folder / "kept.backup", str(folder / "first.sqlite")).verified.sound
    content = bytearray((folder / "kept.backup").read_bytes())
    content[len(content) // 2] ^= 1
    (folder / "kept.backup").write_bytes(content)
    with pytest.raises(UnusableBackupError):
        safekeeping.restore(folder / "kept.backup", str(folder / "second.sqlite"))


@pytest.mark.promise("B2")
def test_a_drill_restores_compares_and_leaves_nothing_but_its_result(filled: Desk, folder: Path) -> None:
    before = sorted(one.name for one in folder.iterdir())
    assert safekeeping.drill(filled.book).verified.sound
    assert filled.book.events("drill")[0]["sound"] is True
    assert sorted(one.name for one in folder.iterdir()) == before


def reports(book: Ledger, folder: Path) -> dict[str, object]:
    """Everything that is made of a book: each sheet, one on paper too, where it stands, and what its recording tells."""
    (slip,) = book.entry(book.state().head_sequence)[0].entry.attachments
    recording = folder / slip.name
    recording.write_bytes(book.attachment(slip.sha256) or b"")
    standing = status(book)
    return {
        **{kind: sheets.text(book, kind) for kind in sheets.KINDS},
        "on paper": sheets.pdf(book, "record", printed_on=date(2031, 5, 3)),
        "standing": {name: standing[name] for name in standing.keys() - {"place", "backup"}},
        "measured": balance_document(measure([read_recording(recording)])),
    }


@pytest.mark.promise("B2")
def test_a_restored_book_gives_the_same_reports(quick: Path, trial_run: TrialRun) -> None:
    flight = write_first_flight(quick)
    with sheet_book.new_book(quick) as book:
        for part in (sheet_book.begun, sheet_book.half_done, sheet_book.drafted, sheet_book.packed):
            part(book)
        desk = Desk(book, SetClock())
        desk.add("attachment", {"text": "flight"}, files=(File(flight.name, flight.read_bytes()),))
        safekeeping.back_up(book, quick / "kept.backup")
        safekeeping.restore(quick / "kept.backup", str(quick / "elsewhere" / "book.sqlite"))
        store = sqlite.open_file(quick / "elsewhere" / "book.sqlite")
        again = open_ledger(store, sheet_book.clock, book.program)
        wanted = reports(book, quick)
        assert reports(again, quick / "elsewhere") == wanted
        desk.add("attachment", {"text": "cut"}, files=(File(flight.name, flight.read_bytes()[:-2000]),))
        other = reports(book, quick)
        again.close()
    assert [name for name in wanted if wanted[name] == other[name]] == [], (
        "canary: one entry more shows in each"
    )
    trial_run.measured(f"{len(wanted)} reports of a restored book the same byte for byte", len(wanted))


@pytest.mark.promise("B2")
@pytest.mark.timeout(1800)
def test_a_large_book_is_the_same_at_another_place_within_a_minute(folder: Path, trial_run: TrialRun) -> None:
    entries, attachments = LARGE if trial_run.is_long else LARGE_IN_SAMPLE
    desk = Desk(records.open_book(str(large.filled(folder, entries))), SetClock(large.START))
    draw = trial_run.random("scans")
    for number in range(attachments):
        scan = File(f"scan-{number}.pdf", draw.randbytes(MOST_ATTACHMENT_BYTES))
        desk.add("attachment", {"text": "scan"}, files=(scan,))
    begun = time.monotonic()
    manifest, _ = safekeeping.back_up(desk.book, folder / "large.backup")
    restored = safekeeping.restore(folder / "large.backup", str(folder / "elsewhere" / "book.sqlite"))
    took_s = time.monotonic() - begun
    again = Desk(records.open_book(str(folder / "elsewhere" / "book.sqlite")), desk.clock)
    assert (restored.verified.sound, restored.verified.head) == (True, manifest.head)
    assert again.bodies() == desk.bodies()
    assert took_s <= MOST_S
    for one in (again, desk):
        one.book.close()
    trial_run.measured(
        f"0 differences in {entries + attachments:,} entries with {attachments * MOST_ATTACHMENT_BYTES / 1e6:,.0f} MB "
        f"of attachments; backed up and restored within {took_s:.0f} s",
        1,
    )


def test_the_list_of_contents_of_an_export_is_written_last_and_whole(
    filled: Desk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    there: dict[str, set[str]] = {}

    def seen(place: Path, content: bytes) -> None:
        there[place.name] = {one.name for one in (folder / "out").iterdir()}
        write_whole(place, content)

    monkeypatch.setattr(safekeeping, "write_whole", seen)
    safekeeping.export(filled.book, folder / "out")
    assert there["manifest.json"] == {"attachments", "entries.jsonl", "events.jsonl", "readable.txt"}


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


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        (
            "UPDATE entries SET data = CAST(replace(data, 'eins', 'drei') AS BLOB) WHERE sequence = 1",
            "entry 1: its hash is not that of its content",
        ),
        ("DELETE FROM entries WHERE sequence = 2", "entry 2: missing; the next one is 3"),
        ("UPDATE attachments SET content = x'00'", "the attachment [0-9a-f]{12} is not what was kept"),
    ],
)
def test_a_damaged_book_takes_the_place_of_no_backup_and_leaves_no_export(
    file_desk: Desk, folder: Path, change: str, reason: str
) -> None:
    file_desk.add("note", {"text": "eins"})
    file_desk.add("note", {"text": "zwei"})
    file_desk.add("attachment", {"text": "scan"}, files=(File("scan.pdf", b"scanned"),))
    safekeeping.back_up(file_desk.book, folder / "kept.backup")
    good = (folder / "kept.backup").read_bytes()
    file_desk.book.close()
    database = sqlite3.connect(folder / "book.sqlite")
    for (guard,) in database.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        database.execute(f"DROP TRIGGER {guard}")
    database.execute(change)
    database.commit()
    database.close()
    book = records.open_book(str(folder / "book.sqlite"))
    (folder / "there").mkdir()
    before = sorted(one.name for one in folder.iterdir())
    with pytest.raises(DamagedBookError, match=reason):
        safekeeping.back_up(book, folder / "kept.backup")
    with pytest.raises(DamagedBookError, match=reason):
        safekeeping.export(book, folder / "out")
    with pytest.raises(DamagedBookError, match=reason):
        safekeeping.export(book, folder / "there")
    book.close()
    assert (folder / "kept.backup").read_bytes() == good
    assert sorted(one.name for one in folder.iterdir() if "-" not in one.name) == before
    assert list((folder / "there").iterdir()) == []


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
