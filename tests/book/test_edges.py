"""The edges of the rules and of the stores: what seldom happens, and still ends in a sentence and nothing written."""

import json
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from leanwright.book import backup, ledger
from leanwright.book.entry import Author, local_date
from leanwright.book.ledger import MOST_ATTACHMENTS, Draft, File, Ledger
from leanwright.book.stores import places, postgresql, sqlite
from leanwright.cli.book_words import entry_line
from leanwright.errors import (
    LeanwrightError,
    RefusedEntryError,
    UnusableBackupError,
    UnusableBookError,
    UnwritableBookError,
)
from leanwright.workbench import fit, receive, records, release, returns, safekeeping, standing
from leanwright.workbench.records import Said
from tests.book import job
from tests.book.conftest import Desk


def number_of(book: Ledger, kind: str) -> int:
    """The number of the first entry of a kind."""
    return next(one.entry.sequence for one, _ in book.entries(kind))


@pytest.mark.parametrize("kind", ["aircraft", "engine", "nozzle-set", "order", "tool", "job"])
def test_what_others_lean_on_is_corrected_and_not_taken_back(book: Ledger, kind: str) -> None:
    job.begun(book)
    job.up_to(book, "line-torqued-at-nozzle")
    assert (
        job.refusal(book, lambda: records.void(book, number_of(book, kind), "a mistake", job.ADA)) == "in-use"
    )


@pytest.mark.parametrize("kind", ["aircraft", "engine", "nozzle-set", "order", "tool", "job"])
def test_what_others_speak_of_keeps_its_name(book: Ledger, kind: str) -> None:
    job.begun(book)
    number = number_of(book, kind)
    body = records.parse_body(bytes(book.entry(number)[0].entry.body), "body")
    renamed = {**body, "id": "OTHER"}
    assert (
        job.refusal(book, lambda: records.correct(book, number, renamed, "typing", job.ADA)) == "other-name"
    )


@pytest.mark.parametrize("kind", ["engine", "order", "tool", "job"])
def test_what_nobody_leans_on_is_taken_back(book: Ledger, kind: str) -> None:
    made: dict[str, dict[str, Any]] = {
        "engine": {"id": "E9", "cylinders": 2},
        "order": {"id": "O-9", "lines": [{"marking": "Q"}]},
        "tool": {"id": "TW-9"},
        "job": {
            "id": "J-9",
            "engine": "E1",
            "document": "SI",
            "revision": "A",
            "positions": [{"cylinder": 1, "marking": "Q7-100"}],
        },
    }
    job.begun(book)
    records.void(book, records.add(book, kind, made[kind], job.ADA).sequence, "a mistake", job.ADA)
    kept = getattr(
        book.state(), {"engine": "engines", "order": "orders", "tool": "tools", "job": "jobs"}[kind]
    )
    assert made[kind]["id"] not in kept


def test_only_records_and_inspections_are_signed(book: Ledger) -> None:
    signed = {
        "name": "Bea Example",
        "certificate_number": "1",
        "certificate_kind": "mechanic",
        "meaning": "performed",
        "time": "2031-05-03T12:00:00Z",
        "identified_by": "typed-by-signer",
        "shown_sha256": "0" * 64,
    }
    said = Said(by="Bea Example", signature=signed)
    assert job.refusal(book, lambda: records.add(book, "note", {"text": "a"}, said)) == "cannot-be-signed"
    unknown = {**signed, "colour": "blue"}
    assert job.refusal(
        book, lambda: records.add(book, "note", {"text": "a"}, replace(said, signature=unknown))
    )


def test_a_signature_needs_a_record_and_a_signer(book: Ledger) -> None:
    job.begun(book)
    assert (
        job.refusal(book, lambda: records.add(book, "signature", {"record": 1}, job.ADA)) == "no-such-record"
    )
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 3), performed_by="Ada Example", said=job.ADA)
    assert (
        job.refusal(book, lambda: records.add(book, "signature", {"record": drafted.sequence}, job.ADA))
        == "no-signature"
    )
    assert job.refusal(book, lambda: release.checked(book, 1)) == "no-such-record"


def test_a_signed_record_is_not_drafted_anew_and_stays_readable(book: Ledger) -> None:
    job.begun(book)
    job.all_done(book)
    records.add(book, "person", {"name": "Cleo Example", "certificate_number": "111"}, job.ADA)
    drafted = release.draft(
        book, "J-1", completed=date(2031, 5, 3), performed_by="Cleo Example", wording="Done.", said=job.ADA
    )
    items = {one["item"]: one["verdict"] for one in release.checked(book, drafted.sequence)["items"]}
    # The owner's own wording names neither the instructions nor the date nor the doer.
    assert (items[1], items[2], items[3]) == ("missing", "missing", "missing")
    text = release.checked(book, drafted.sequence)["text"]
    signed = release.take_signature(
        book, drafted.sequence, job.signature(text, name="Cleo Example", certificate_number="999"), job.BEA
    )
    found = release.checked(book, drafted.sequence)
    told = {one["item"]: (one["verdict"], one["found"]) for one in found["items"]}
    assert told[3] == ("met", "the signer did the work")
    assert told[5] == ("person-decides", "the certificate number differs from the one in the book")
    assert any(
        "signed (released): Cleo Example, mechanic 999" in line
        for line in records.readable(book, signed.sequence)
    )
    again: dict[str, Any] = {"completed": date(2031, 5, 3), "performed_by": "Ada Example", "said": job.ADA}
    assert job.refusal(book, lambda: release.draft(book, "J-1", **again)) == "signed"


def test_a_job_without_approval_or_aircraft_is_checked_for_what_there_is(book: Ledger) -> None:
    engine = {"id": "E3", "cylinders": 3, "layout": "radial"}
    records.add(book, "engine", engine, job.ADA)
    plan = {"id": "J-3", "engine": "E3", "document": "SI", "revision": "A"}
    fit.begin(book, {**plan, "positions": [{"cylinder": 1, "marking": "Q"}]}, job.ADA)
    drafted = release.draft(
        book,
        "J-3",
        completed=date(2031, 5, 3),
        performed_by="Ada Example",
        more={"book": "aircraft", "check_flight": "logged"},
        said=job.ADA,
    )
    found = release.checked(book, drafted.sequence)
    told = {one["item"]: one["verdict"] for one in found["items"]}
    assert (told[6], told[7], told[8], told[9]) == ("not-asked", "missing", "met", "missing")
    assert "Aircraft:" not in found["text"]
    assert standing.engine_at(book, "E3")["fitted"][0]["place"] is None
    for wrong in ({"rules": "mars"}, {}):
        where = "J-3" if wrong else "J-9"
        with pytest.raises(RefusedEntryError, match=r"There (are|is) no"):
            release.draft(book, where, completed=date(2031, 5, 3), performed_by="A", **wrong)  # type: ignore[arg-type]  # wrong on purpose


def test_a_major_alteration_asks_for_its_form_supplement_and_placards(book: Ledger) -> None:
    job.begun(book)
    old = number_of(book, "nozzle-set")
    approval: dict[str, Any] = {
        "document": "PG-STC-9 (invented)",
        "classification": "major",
        "supplement": "S-1",
        "placards": ["Beside the mixture"],
    }
    records.correct(book, old, {**job.SET, "approval": approval}, "classified anew", job.ADA)
    done: dict[str, Any] = {"completed": date(2031, 5, 3), "performed_by": "Ada Example", "said": job.ADA}
    found = release.checked(book, release.draft(book, "J-1", **done).sequence)
    assert "Flight manual supplement: S-1." in found["text"]
    assert "Placard: Beside the mixture." in found["text"]
    assert [one["verdict"] for one in found["items"] if one["item"] == 6] == ["missing", "met", "missing"]
    with_form = {**job.SET, "approval": approval | {"form_date": "2031-05-01"}}
    records.correct(book, number_of_latest(book, old), with_form, "the form came", job.ADA)
    found = release.checked(book, release.draft(book, "J-1", **done).sequence)
    assert [one["verdict"] for one in found["items"] if one["item"] == 6][-1] == "person-decides"


def number_of_latest(book: Ledger, number: int) -> int:
    """The number of the version of an entry that holds."""
    return records.versions(book, number)[-1]


def test_squawks_are_closed_and_reminders_are_done(book: Ledger) -> None:
    job.hangar(book)
    opened = records.add(book, "squawk", {"text": "rough at idle", "engine": "E1"}, job.ADA).sequence
    assert standing.status(book)["squawks"] == [{"entry": opened, "text": "rough at idle"}]
    records.add(book, "squawk", {"text": "plug cleaned", "state": "closed", "closes": opened}, job.ADA)
    records.add(book, "squawk", {"text": "was nothing", "state": "closed"}, job.ADA)
    assert standing.status(book)["squawks"] == []
    records.add(book, "reminder", {"text": "done", "due": "2031-05-01", "done": True}, job.ADA)
    records.add(book, "reminder", {"text": "at hours", "due_hours": "10", "engine": "E1"}, job.ADA)
    records.add(
        book, "document", {"id": "M-1", "type": "manual", "revision": "3", "title": "Manual"}, job.ADA
    )
    titled = {"id": "D-2", "type": "directive", "revision": "1", "title": "Lines", "next_due": "2031-06-01"}
    records.add(book, "document", titled, job.ADA)
    records.add(book, "tool", {"id": "OLD", "withdrawn": True}, job.ADA)
    records.add(book, "tool", {"id": "NEW"}, job.ADA)
    records.add(book, "interval", {"what": "nozzle-cleaning", "hours": "100", "source": "owner"}, job.ADA)
    texts = [one["text"] for one in returns.due_list(book)]
    assert texts == ["directive D-2 revision 1: Lines", "Calibration of torque-wrench TW-04", "at hours"]
    # What falls due at hours has no day in a calendar.
    assert b"at hours" not in returns.calendar(book)


def test_wrenches_without_papers_or_range_are_refused(book: Ledger) -> None:
    job.begun(book)
    job.up_to(book, "nozzle-torqued")
    for name, more, code in (
        ("NO-CAL", {"low": "10", "high": "150", "unit": "in-lb"}, "calibration-unknown"),
        ("NO-RANGE", {"calibration_due": "2035-01-01"}, "range-unknown"),
        ("GAUGE", {"kind": "pressure-gauge"}, "no-wrench"),
        ("GONE", {"withdrawn": True}, "no-wrench"),
    ):
        records.add(book, "tool", {"id": name, **more}, job.ADA)
        assert job.refusal(book, lambda name=name: job.step(book, "nozzle-torqued", 3, tool=name)) == code  # type: ignore[misc]  # bound now
    turned = {"lever": "10", "extension": "12", "unit": "in", "angle_deg": "180"}
    assert job.refusal(book, lambda: job.step(book, "nozzle-torqued", 3, extension=turned)) == "extension"
    for torque, unit, lever, code in ((33.0, "oz", 10.0, "torque-unit"), (33.0, "in-lb", 0.0, "extension")):
        with pytest.raises(RefusedEntryError) as caught:
            fit.wrench_has_to_read(torque, unit, lever=lever, extension=1.0)
        assert caught.value.code == code


def test_work_that_rests_or_has_no_limits_is_told(book: Ledger) -> None:
    job.hangar(book)
    job.box(book)
    plan = {"id": "J-1", "engine": "E1", "set": "PG-set", "document": "SI", "revision": "C"}
    fit.begin(book, {**plan, "positions": [{"cylinder": 3, "marking": "Q7-104"}]}, job.ADA)
    job.up_to(book, "nozzle-torqued")
    measured = {"job": "J-1", "step": "idle-speed", "value": "650", "unit": "rpm"}
    assert job.refusal(book, lambda: fit.do_step(book, measured, job.ADA)) == "no-figure"
    assert job.refusal(book, lambda: job.step(book, "nozzle-torqued", 3)) == "no-figure"
    assert job.refusal(book, lambda: fit.resume(book, "J-1", [], job.ADA)) == "not-paused"
    fit.pause(book, "J-1", "lunch", job.ADA)
    assert job.refusal(book, lambda: fit.pause(book, "J-1", "lunch", job.ADA)) == "paused-already"
    blank = {"job": "J-1", "step": "marking-read", "cylinder": 3}
    fit.resume(book, "J-1", [(one["step"], one["cylinder"]) for one in fit.worksheet(book, "J-1")["touch_again"]], job.ADA)  # fmt: skip
    assert job.refusal(book, lambda: fit.do_step(book, blank, job.ADA)) == "no-marking"
    for missing in (lambda: fit.worksheet(book, "J-9"), lambda: receive.receiving_list(book, "O-9")):
        assert job.refusal(book, missing).startswith("no-such-")
    assert job.refusal(book, lambda: returns.parcel_list(book, "P-9")) == "no-such-parcel"


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ({"nozzles": [{"marking": "Q", "groups": ["middle"]}]}, "no-such-group"),
        ({"nozzles": [{"marking": "Q"}, {"marking": "Q"}]}, "marking-twice"),
    ],
)
def test_a_set_that_contradicts_itself_is_refused(book: Ledger, body: dict[str, Any], code: str) -> None:
    assert job.refusal(book, lambda: records.add(book, "nozzle-set", {"id": "S", **body}, job.ADA)) == code


def test_a_set_whose_rows_the_engine_has_not_is_told_at_the_job(book: Ledger) -> None:
    records.add(book, "engine", {"id": "E3", "cylinders": 3, "layout": "radial"}, job.ADA)
    groups: list[dict[str, Any]] = [
        {"name": "front", "rows": ["front"]},
        {"name": "two", "cylinders": [2]},
        {"name": "all"},
    ]
    nozzles = [{"marking": f"Q-{one['name']}", "groups": [one["name"]]} for one in groups]
    records.add(book, "nozzle-set", {"id": "S", "groups": groups, "nozzles": nozzles}, job.ADA)
    plan = {"id": "J", "engine": "E3", "set": "S", "document": "SI", "revision": "A"}

    def begin(marking: str, cylinder: int) -> object:
        return fit.begin(book, {**plan, "positions": [{"cylinder": cylinder, "marking": marking}]}, job.ADA)

    assert job.refusal(book, lambda: begin("Q-front", 1)) == "places-unknown"
    assert job.refusal(book, lambda: begin("Q-two", 1)) == "position-rule"
    begin("Q-all", 1)


def test_parcels_hold_something_and_lists_tell_what_goes_back(book: Ledger) -> None:
    job.hangar(book)
    assert job.refusal(book, lambda: returns.pack(book, {"id": "P"}, job.ADA)) == "empty-parcel"
    returns.pack(book, {"id": "P", "order": "O-1", "items": [{"marking": "Q7-100"}]}, job.ADA)
    listed = returns.parcel_list(book, "P")
    assert (listed["state"], listed["items"][0]["marking"]) == ("to-send", "Q7-100")
    assert [one.id for one in returns.to_send(book.state(), "O-1")] == ["P"]
    assert returns.to_send(book.state(), "O-2") == []
    assert job.refusal(book, lambda: receive.read_markings("Q7-104, three") and None) == "no-number"


def test_a_clock_at_the_end_of_the_calendar_stops_nobody(file_desk: Desk) -> None:
    east = timezone(timedelta(hours=9))
    file_desk.clock.now = datetime(9999, 12, 31, 23, 0, tzinfo=UTC)
    file_desk.add("note", {"text": "late"})
    entry = file_desk.book.entry(1)[0].entry
    shifted = type(entry)(
        **{name: getattr(entry, name) for name in entry.__struct_fields__} | {"offset_minutes": 540}
    )
    assert local_date(shifted) == date(9999, 12, 31)
    file_desk.clock.now = datetime(2031, 5, 3, 20, 0, tzinfo=UTC).astimezone(east)
    file_desk.add("note", {"text": "tomorrow already"})
    assert local_date(file_desk.book.entry(2)[0].entry) == date(2031, 5, 4)


def test_keys_files_and_hours_have_limits(file_desk: Desk) -> None:
    draft = Draft("note", {"text": "a"}, Author(name="Ada", identified_by="typed"), "k")
    too_many = tuple(File(f"{number}", b"") for number in range(MOST_ATTACHMENTS + 1))
    for wrong, code in (
        (replace(draft, request_key=""), "bad-request-key"),
        (replace(draft, request_key="ä"), "bad-request-key"),
        (replace(draft, request_key="a\n"), "bad-request-key"),
        (replace(draft, files=too_many), "too-many-files"),
    ):
        assert job.refusal(file_desk.book, lambda wrong=wrong: file_desk.book.append(wrong)) == code  # type: ignore[misc]  # bound now


def test_two_windows_see_what_the_other_wrote(file_desk: Desk, folder: Path) -> None:
    other = ledger.open_ledger(sqlite.open_file(folder / "book.sqlite"), file_desk.clock, "t")
    file_desk.add("engine", {"id": "E1", "cylinders": 6})
    assert list(other.state().engines) == ["E1"]
    file_desk.add("engine", {"id": "E2", "cylinders": 6})
    file_desk.add("note", {"text": "a"})
    assert list(other.state().engines) == ["E1", "E2"]
    assert [one.entry.sequence for one, _ in other.entries("note")] == [3]
    other.close()


def test_a_writer_of_an_older_form_needs_a_place_that_it_can_write(file_desk: Desk, folder: Path) -> None:
    file_desk.book.close()
    store = sqlite.open_file(folder / "book.sqlite", read_only=True)
    with pytest.raises(UnwritableBookError, match="reading only"), store.migrating():
        pass
    store.close()


def test_a_disk_that_failed_is_written_to_no_more(file_desk: Desk) -> None:
    store = file_desk.book.store
    assert isinstance(store, sqlite.SqliteStore)
    said = store._error(OSError("disk I/O error"))
    assert "until a restart" in str(said)
    with pytest.raises(UnwritableBookError, match="stopped after a failed flush"):
        file_desk.add("note", {"text": "a"})
    assert "cannot be written" in str(store._error(OSError("attempt to write a readonly database")))
    assert "The database says" in str(store._error(OSError("something else")))


def test_places_are_told_apart(folder: Path) -> None:
    assert places.file_system(folder, folder / "no-mounts-here") == ""
    (folder / "mounts").write_text("short line\n1 0 0:1 / / rw - ext4 /dev/sda rw\n", "utf-8")
    assert places.file_system(folder, folder / "mounts") == "ext4"
    (folder / "open").mkdir(mode=0o777)
    (folder / "open").chmod(0o1777)
    places.check_place(folder / "open" / "book.sqlite")
    with pytest.raises(UnusableBookError, match="no file"):
        places.check_place(folder / "open")
    with pytest.raises(UnusableBookError, match="cannot be made"):
        sqlite.make_file(Path("/proc/nowhere/book.sqlite"))


def export_of(desk: Desk, folder: Path) -> Path:
    """An export with an attachment and an event."""
    desk.add("attachment", {"text": "scan"}, files=(File("scan.bin", bytes(40)),))
    desk.add("note", {"text": "eins"})
    desk.book.note_event("test", {"what": "é"})
    safekeeping.export(desk.book, folder / "out")
    return folder / "out"


def changed_list(out: Path, **values: Any) -> None:
    """Change the list of contents."""
    place = out / "manifest.json"
    place.write_text(json.dumps({**json.loads(place.read_text("utf-8")), **values}), "utf-8")


@pytest.mark.parametrize(
    "change",
    [
        lambda out: changed_list(out, format="leanwright/export/9"),
        lambda out: changed_list(out, head="0" * 64),
        lambda out: changed_list(out, attachments=[]),
        lambda out: changed_list(out, events=0),
        lambda out: changed_list(out, ledger="1" * 32),
        lambda out: (out / "manifest.json").unlink(),
        lambda out: (out / "manifest.json").write_text("[]", "utf-8"),
        lambda out: (out / "events.jsonl").unlink(),
        lambda out: next((out / "attachments").iterdir()).write_bytes(b"other"),
        lambda out: next((out / "attachments").iterdir()).unlink(),
        lambda out: (out / "entries.jsonl").write_bytes(b"{}\n"),
    ],
)
def test_an_export_that_does_not_hold_together_is_refused(
    file_desk: Desk, folder: Path, change: Callable[[Path], object]
) -> None:
    out = export_of(file_desk, folder)
    change(out)
    with pytest.raises(UnusableBackupError):
        safekeeping.import_folder(out, str(folder / "new.sqlite"))
    assert not (folder / "new.sqlite").exists()


def test_a_backup_that_cannot_be_read_back_gets_no_name(
    file_desk: Desk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backup, "read_manifest", lambda _file: None)
    with pytest.raises(LeanwrightError, match="read back"):
        backup.write(file_desk.book.store, folder / "b.backup", program="t", made="t")
    assert [one.name for one in folder.iterdir() if "backup" in one.name] == []


def test_who_runs_the_program_has_a_name_even_where_the_machine_knows_none(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def nobody() -> str:
        raise KeyError("no such user")

    monkeypatch.setattr("getpass.getuser", nobody)
    assert records.this_user().name == f"user {os.getuid()}"


def test_the_list_marks_what_was_superseded_late_or_written_by_a_strange_clock(file_desk: Desk) -> None:
    file_desk.add("note", {"text": "eins\nzwei"})
    file_desk.clock.forward(hours=-2)
    file_desk.add("note", {"text": "besser"}, supersedes=1, reason="typing")
    lines = [entry_line(one) for one in records.listed(file_desk.book)]
    assert "(now 2)" in lines[0]
    assert lines[0].endswith("eins")
    assert "(clock!)" in lines[1]
    assert records.versions(file_desk.book, 2) == [1, 2]
    assert "    no longer holds: see entry 2" in records.readable(file_desk.book, 1)
    assert records.shown(file_desk.book, 2)["clock"] == "earlier-than-before"
    assert job.refusal(file_desk.book, lambda: records.add(file_desk.book, "note", [])) == "not-an-object"
    with pytest.raises(UnusableBookError, match="no place for a book"):
        records.open_store("mysql://here/there")


def test_before_its_job_had_begun_nothing_of_it_counts(book: Ledger) -> None:
    job.begun(book)
    late = Said(by="Ada Example", worked="2031-05-01")
    figure = {"job": "J-1", "what": "idle-speed", "low": "650", "high": "750", "unit": "rpm"}
    fit.enter_figure(book, {**figure, "document": "SI-78", "revision": "A"}, late)
    fit.do_step(book, {"job": "J-1", "step": "fuel-off", "seen": "selector off"}, late)
    fit.do_step(book, {"job": "J-1", "step": "line-off", "cylinder": 3, "seen": "capped"}, late)
    fit.remove(book, {"job": "J-1", "cylinder": 3, "marking": "Q7-100", "tag": "old"}, late)
    fit.do_step(book, {"job": "J-1", "step": "seat-inspected", "cylinder": 3, "seen": "clean"}, late)
    fit.do_step(book, {"job": "J-1", "step": "marking-read", "cylinder": 3, "marking": "Q7-104"}, late)
    for step in ("thread-compound", "started-by-hand"):
        fit.do_step(book, {"job": "J-1", "step": step, "cylinder": 3, "seen": "as the manual says"}, late)
    reading = {"job": "J-1", "step": "nozzle-torqued", "cylinder": 3, "reading": "33", "unit": "in-lb"}
    fit.read_torque(book, {**reading, "tool": "TW-04"}, late)
    fit.pause(book, "J-1", "telephone", late)
    drafted = release.draft(book, "J-1", completed=date(2031, 5, 1), performed_by="Ada Example", said=late)
    signed = job.signature(
        release.checked(book, drafted.sequence)["text"], name="Cleo Example", meaning="performed"
    )
    release.take_signature(book, drafted.sequence, signed, late)
    apart = receive.quarantine(book, "Q9-001", "no papers", said=job.ADA).sequence
    receive.let_out(book, apart, "Ada Example", "papers came", late)
    before = book.state_at(day=date(2031, 5, 2))
    assert (before.jobs, before.quarantine, before.fitted) == ({}, {}, {})
    now = book.state().jobs["J-1"]
    assert (now.figures["idle-speed"].item.body.document, now.paused is not None) == ("SI-78", True)
    assert book.state().fitted["E1"][3].marking == "Q7-104"


def test_threads_of_one_process_write_one_after_the_other(file_desk: Desk) -> None:
    def write(number: int) -> int:
        draft = Draft("note", {"text": f"{number}"}, Author(name="Ada", identified_by="typed"), f"t{number}")
        return file_desk.book.append(draft).sequence

    with ThreadPoolExecutor(4) as pool:
        numbers = list(pool.map(write, range(40)))
    assert sorted(numbers) == list(range(1, 41))


class SaidError(Exception):
    """What a database says, with its code."""

    def __init__(self, sqlstate: str | None) -> None:
        super().__init__("said so")
        self.sqlstate = sqlstate


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("55P03", "writing for"),
        ("53100", "disk is full"),
        ("42501", "refuses it"),
        ("XX001", "The database says: said so"),
        ("57P01", "cannot be reached"),
        (None, "cannot be reached"),
    ],
)
def test_what_postgresql_says_becomes_a_sentence(database: str, state: str | None, words: str) -> None:
    store = postgresql.open_address(database)
    error = sa.exc.DBAPIError("SELECT 1", None, SaidError(state))
    assert words in str(store._error(error))
    store.close()


def test_an_import_goes_into_a_database_in_which_nothing_was_written_yet(
    file_desk: Desk, folder: Path, database: str
) -> None:
    out = export_of(file_desk, folder)
    records.make_book(database).close()
    assert safekeeping.import_folder(out, database).verified.problems == ()
    with pytest.raises(UnusableBookError, match="already"):
        safekeeping.import_folder(out, database)


def test_a_squawk_is_closed_once_and_only_if_it_is_one(book: Ledger) -> None:
    job.hangar(book)
    note = records.add(book, "note", {"text": "a remark"}, job.ADA).sequence
    fault = records.add(book, "squawk", {"text": "stain at 3", "engine": "E1"}, job.ADA).sequence

    def close(**more: int) -> object:
        return records.add(book, "squawk", {"text": "mended", "state": "closed", **more}, job.ADA)

    close()  # noticed and put right at once
    assert job.refusal(book, lambda: close(closes=note)) == "no-such-squawk"
    assert list(book.state().squawks) == [fault]
    close(closes=fault)
    assert not book.state().squawks
    assert job.refusal(book, lambda: close(closes=fault)) == "no-such-squawk"


def test_an_entry_that_takes_another_back_is_not_corrected_into_something_else(book: Ledger) -> None:
    note = records.add(book, "note", {"text": "a"}, job.ADA).sequence
    back = records.void(book, note, "twice", job.ADA).sequence
    body = {"text": "b"}
    assert job.refusal(book, lambda: records.correct(book, back, body, "no", job.ADA)) == "taken-back"
