"""Rules of all entries at their ends: hours, dates and clocks up to the last that still fits."""

from contextlib import nullcontext
from datetime import UTC, date, datetime
from typing import Any

import msgspec
import pytest

from leanwright.book.entry import (
    Attached,
    Author,
    Entry,
    Signature,
    Worked,
    clock_flag,
    days_late,
    local_date,
    plain,
    seal,
    stamp,
)
from leanwright.book.kinds import parts
from leanwright.book.kinds.table import KINDS, dates_of, schemas
from leanwright.book.paper_rules import check_time
from leanwright.errors import RefusedEntryError
from tests.book.conftest import Desk

NOTE: dict[str, object] = {"engine": "E1", "text": "read"}


def at(day: int, hours: str | None = None) -> dict[str, Any]:
    """When the work was done, in May."""
    return {"worked": Worked(date=date(2031, 5, day), hours=hours)}


def is_taken(desk: Desk, kind: str, body: dict[str, object], **more: Any) -> bool:
    """Whether an entry is written; if not, nothing is."""
    before = desk.bodies()
    try:
        desk.add(kind, body, **more)
    except RefusedEntryError:
        assert desk.bodies() == before
        return False
    return True


@pytest.mark.parametrize(
    ("day", "hours", "taken"),
    [
        (1, "99.9", False),
        (1, "100", True),
        (1, "105", True),
        (1, "105.1", False),
        (2, "104.9", False),
        (2, "105", True),
        (2, "110", True),
        (2, "110.1", False),
        (3, "109.9", False),
        (3, "110", True),
        (3, "999", True),
    ],
)
def test_hours_lie_between_those_before_and_after(
    quick_desk: Desk, day: int, hours: str, *, taken: bool
) -> None:
    quick_desk.add("engine", {"id": "E1", "cylinders": 4})
    quick_desk.add("engine", {"id": "E2", "cylinders": 4})
    quick_desk.add("note", NOTE, **at(1, "90"))
    quick_desk.add("note", NOTE, **at(1, "100"))
    quick_desk.add("note", NOTE, **at(2, "105"))
    quick_desk.add("note", NOTE, **at(3, "110"))
    quick_desk.add("note", {"engine": "E2", "text": "read"}, **at(1, "5"))
    assert is_taken(quick_desk, "note", NOTE, **at(day, hours)) == taken
    assert is_taken(quick_desk, "engine", {"id": "E1", "cylinders": 4, "new_meter": True}, **at(3, "0"))
    assert is_taken(quick_desk, "note", {"text": "of no engine"}, **at(1, "1"))


def test_of_one_day_the_last_reading_counts(quick_desk: Desk) -> None:
    quick_desk.add("engine", {"id": "E1", "cylinders": 4}, **at(1, "100"))
    misread = quick_desk.add("note", NOTE, **at(1, "120")).sequence
    assert not is_taken(quick_desk, "note", NOTE, **at(1, "119"))
    quick_desk.add("note", NOTE, supersedes=misread, reason="misread", **at(1, "110"))
    assert is_taken(quick_desk, "note", NOTE, **at(1, "110"))


@pytest.mark.parametrize(
    ("body", "taken"),
    [
        ({"calibrated": "2031-05-03", "calibration_due": "2031-05-04"}, True),
        ({"calibrated": "2031-05-04"}, False),
    ],
)
def test_what_is_due_lies_ahead_and_nothing_else_does(
    quick_desk: Desk, body: dict[str, object], *, taken: bool
) -> None:
    assert is_taken(quick_desk, "tool", {"id": "T", **body}) == taken


def test_a_date_is_found_however_deep_it_lies(quick_desk: Desk) -> None:
    approval = {"document": "D", "form_date": "2031-05-04"}
    assert not is_taken(
        quick_desk, "nozzle-set", {"id": "S", "nozzles": [{"marking": "Q"}], "approval": approval}
    )
    whole = msgspec.convert({"id": "S", "nozzles": [], "approval": approval}, parts.NozzleSet)
    assert list(dates_of(whole)) == [("form_date", date(2031, 5, 4))]


def test_of_an_engine_that_was_taken_back_no_cylinder_is_counted(quick_desk: Desk) -> None:
    engine = quick_desk.add("engine", {"id": "E1", "cylinders": 4}).sequence
    quick_desk.add("order", {"id": "O", "engine": "E1", "lines": [{"marking": "Q"}]})
    receipt: dict[str, object] = {"order": "O", "marking": "Q", "result": "right", "cylinder": 5}
    assert not is_taken(quick_desk, "receipt", receipt)
    quick_desk.add("void", {}, supersedes=engine, reason="sold")
    assert is_taken(quick_desk, "receipt", receipt)


def test_an_entry_as_plain_data_and_the_schema_of_a_kind_are_whole() -> None:
    assert plain(entry())["body"] == {"text": "a"}
    assert plain(entry()) == msgspec.json.decode(seal(plain(entry())).data)
    found = schemas()
    assert list(found) == list(KINDS)
    form = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "void",
        "$ref": "#/$defs/Void",
    }
    assert {name: found["void"][name] for name in form} == form


def test_today_is_the_later_of_two_clocks_and_a_clock_of_before_the_program_is_none(quick_desk: Desk) -> None:
    quick_desk.clock.now = datetime(2025, 12, 31, 12, 0, tzinfo=UTC)
    assert is_taken(quick_desk, "note", {"text": "a"}, **at(9))
    quick_desk.clock.now = datetime(2026, 1, 1, 0, 0, tzinfo=UTC)
    assert not is_taken(quick_desk, "note", {"text": "a"}, **at(9))
    quick_desk.clock.now = datetime(2031, 5, 3, 12, 0, tzinfo=UTC)
    quick_desk.add("note", {"text": "a"})
    quick_desk.clock.now = datetime(2031, 5, 1, 12, 0, tzinfo=UTC)
    assert is_taken(quick_desk, "note", {"text": "a"}, **at(3))
    assert not is_taken(quick_desk, "note", {"text": "a"}, **at(4))
    quick_desk.clock.now = datetime(1970, 1, 1, 12, 0, tzinfo=UTC)
    assert is_taken(quick_desk, "note", {"text": "a"}, **at(1))
    assert is_taken(quick_desk, "note", {"text": "the clock before was the plain one"})


@pytest.mark.parametrize(
    ("recorded", "before", "flag"),
    [
        ("2026-01-01T00:00:00Z", "", None),
        ("2025-12-31T23:59:59Z", "", "implausible"),
        ("2099-12-31T23:59:59Z", "", None),
        ("2100-01-01T00:00:00Z", "", "implausible"),
        ("2031-05-03T12:00:00Z", "2031-05-03T12:00:00Z", None),
        ("2031-05-03T11:59:59Z", "2031-05-03T12:00:00Z", "earlier-than-before"),
    ],
)
def test_what_is_strange_about_a_clock(recorded: str, before: str, flag: str | None) -> None:
    assert clock_flag(recorded, before) == flag


def entry(**more: Any) -> Entry:
    """An entry, sealed."""
    values = {
        "format": "leanwright/entry/1", "ledger": "f" * 32, "sequence": 1, "kind": "note", "subject": "book",
        "body": {"text": "a"}, "recorded": "2031-05-03T23:30:00Z", "offset_minutes": 0, "program": "t",
        "author": {"name": "Ada", "identified_by": "typed"}, "request_key": "k", "previous": "0" * 64,
    }  # fmt: skip
    return seal(values | more).entry


@pytest.mark.parametrize(("offset", "day"), [(0, 3), (29, 3), (30, 4), (120, 4), (-300, 3), (-1411, 2)])
def test_an_entry_was_written_on_the_day_of_its_own_place(offset: int, day: int) -> None:
    assert local_date(entry(offset_minutes=offset)) == date(2031, 5, day)


@pytest.mark.parametrize(
    ("moment", "stamped"),
    [
        ("2031-05-03T20:00:00+09:00", ("2031-05-03T11:00:00Z", 540)),
        ("2031-05-03T20:00:00.999-03:30", ("2031-05-03T23:30:00Z", -210)),
        ("0001-01-01T00:00:00+00:00", ("0001-01-01T00:00:00Z", 0)),
    ],
)
def test_a_moment_is_stamped_in_utc_with_the_offset_of_its_place(
    moment: str, stamped: tuple[str, int]
) -> None:
    assert stamp(datetime.fromisoformat(moment)) == stamped


@pytest.mark.parametrize(("worked", "late"), [("2031-05-04", 0), ("2031-05-03", 0), ("2031-05-01", 2)])
def test_how_late_an_entry_is(worked: str, late: int) -> None:
    assert days_late(entry(worked={"date": worked})) == late
    assert days_late(entry()) == 0


def test_a_field_that_says_nothing_is_not_among_the_bytes() -> None:
    silent = entry(worked=None, signature=None, supersedes=None, reason=None, attachments=[])
    assert silent == entry()
    kept: dict[str, Any] = {"name": "a", "size": 0, "sha256": "0" * 64}
    assert entry(attachments=[kept]).attachments == (Attached(**kept),)
    assert silent.author == Author(name="Ada", identified_by="typed")


NOON = "2031-05-03T12:00:00Z"


@pytest.mark.parametrize(
    ("time", "recorded", "before", "code"),
    [
        (NOON, NOON, "", None),
        ("2031-05-03T12:10:00Z", NOON, "", None),
        ("2031-05-03T12:10:01Z", NOON, "", "signed-in-the-future"),
        ("2031-05-03T12:10:01Z", "2031-05-03T11:00:00Z", "2031-05-03T12:00:01Z", None),
        ("2031-05-03T12:10:01Z", "2025-12-31T23:59:59Z", "", None),
        ("2031-05-03T12:10:01Z", "2026-01-01T00:00:00Z", "", "signed-in-the-future"),
        ("0001-01-01T00:00:00Z", NOON, "", None),
        ("2031-05-03T12:00:00", NOON, "", "signature-time"),
        ("2031-5-3T12:00:00Z", NOON, "", "signature-time"),
        ("2031-02-29T12:00:00Z", NOON, "", "signature-time"),
    ],
)
def test_a_signature_is_given_before_it_is_written_or_a_little_later(
    time: str, recorded: str, before: str, code: str | None
) -> None:
    signature = Signature(
        name="Bea", certificate_number="1", certificate_kind="mechanic", meaning="released", time=time,
        identified_by="typed-by-signer", shown_sha256="0" * 64,
    )  # fmt: skip
    refused = pytest.raises(RefusedEntryError) if code else nullcontext()
    with refused as caught:
        check_time(signature, recorded, before)
    assert (caught.value.code if caught else None) == code
