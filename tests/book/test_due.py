"""What falls due, whole: by a day, by hours, or by both; what is overdue comes first."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from leanwright.book.due import Due, due, latest_hours, latest_reading
from leanwright.book.entry import Worked
from leanwright.workbench import returns
from tests.book.conftest import NAME, Desk

MAY_1, MAY_2, MAY_3, MAY_4 = (date(2031, 5, day) for day in range(1, 5))


def at(day: date, hours: str | None = None) -> dict[str, Any]:
    """When the work was done."""
    return {"worked": Worked(date=day, hours=hours)}


def found(engine: str, cylinder: int) -> dict[str, object]:
    """A nozzle in a cylinder."""
    return {"engine": engine, "cylinder": cylinder, "marking": "Q", "source": "read"}


@pytest.fixture
def hangar(quick_desk: Desk) -> Desk:
    """Two engines, wrenches, parcels, reminders and papers."""
    add = quick_desk.add
    add("engine", {"id": "E1", "cylinders": 4}, **at(MAY_1, "1000"))
    add("engine", {"id": "E2", "cylinders": 4})
    for engine, cylinder, when in (
        ("E1", 1, at(MAY_1, "1001")),
        ("E1", 2, at(MAY_2, "1010")),
        ("E2", 1, at(MAY_1)),
    ):
        add("as-found", found(engine, cylinder), **when)
    add("tool", {"id": "TW-1", "calibration_due": "2031-05-02"})
    add("tool", {"id": "TW-3", "calibration_due": "2031-05-01", "withdrawn": True})
    add("tool", {"id": "TW-2", "calibrated": "2031-05-01", "kind": "pressure-gauge"})
    add("tool", {"id": "TW-4"})
    add("interval", {"what": "wrench-calibration", "source": "owner", "days": 365})
    add("interval", {"what": "nozzle-cleaning", "source": "maker", "days": 2, "hours": "50"})
    add(
        "parcel",
        {"id": "P-1", "state": "to-send", "items": [{"marking": "Q"}], "due": "2031-05-03", "to": "the shop"},
    )
    add("parcel", {"id": "P-1", "state": "to-send", "due": "2031-05-04"})
    add("parcel", {"id": "P-2", "state": "to-send", "items": [{"marking": "Q"}], "due": "2031-05-04"})
    add("parcel", {"id": "P-3", "state": "to-send", "items": [{"marking": "Q"}], "due": "2031-05-01"})
    add("parcel", {"id": "P-3", "state": "sent"})
    add("parcel", {"id": "P-4", "state": "to-send", "items": [{"marking": "Q"}]})
    add("reminder", {"text": "by day", "due": "2031-05-03"})
    add("reminder", {"text": "by hours", "due_hours": "1010", "engine": "E1"})
    add("reminder", {"text": "by hours of no engine", "due_hours": "1"})
    add("reminder", {"text": "never"})
    add("reminder", {"text": "done", "due": "2031-05-01", "done": True})
    add(
        "document",
        {"id": "D-1", "type": "directive", "revision": "2", "next_due_hours": "1010.1", "engine": "E1"},
    )
    add(
        "document",
        {"id": "D-2", "type": "bulletin", "revision": "3", "title": "Lines", "next_due": "2031-05-04"},
    )
    add("document", {"id": "D-3", "type": "manual", "revision": "1"})
    return quick_desk


def test_everything_that_falls_due_and_nothing_else(hangar: Desk) -> None:
    assert due(hangar.book.state(), MAY_3) == (
        Due("wrench-calibration", "Calibration of torque-wrench TW-1", 6, MAY_2, overdue=True),
        Due("reminder", "by hours", 19, hours=Decimal(1010), engine="E1", overdue=True),
        Due("nozzle-cleaning", "Clean the nozzles of engine E2 (maker)", 11, MAY_3, engine="E2"),
        Due("reminder", "by day", 18, MAY_3),
        Due("nozzle-cleaning", "Clean the nozzles of engine E1 (maker)", 11, MAY_4, Decimal(1060), "E1"),
        Due("parcel", "Send back parcel P-1 to the shop", 13, MAY_4),
        Due("parcel", "Send back parcel P-2", 14, MAY_4),
        Due("document", "bulletin D-2 revision 3: Lines", 24, MAY_4),
        Due("wrench-calibration", "Calibration of pressure-gauge TW-2", 8, date(2032, 4, 30)),
        Due("reminder", "by hours of no engine", 20, hours=Decimal(1)),
        Due("document", "directive D-1 revision 2", 23, hours=Decimal("1010.1"), engine="E1"),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("interval", "told"),
    [
        ({"days": 2}, [("E1", MAY_4, None), ("E2", MAY_3, None)]),
        ({"hours": "50.5"}, [("E1", None, Decimal("1060.5"))]),
        ({}, []),
    ],
)
def test_nozzles_are_cleaned_by_days_by_hours_or_never(
    hangar: Desk, interval: dict[str, Any], told: list[Any]
) -> None:
    hangar.add("interval", {"what": "nozzle-cleaning", "source": "owner", **interval})
    found = [one for one in due(hangar.book.state(), MAY_1) if one.what == "nozzle-cleaning"]
    assert sorted((one.engine or "", one.day, one.hours) for one in found) == told
    assert not any(one.overdue for one in found)


def test_hours_are_those_that_were_read_last(hangar: Desk) -> None:
    hangar.add("note", {"text": "late", "engine": "E1"}, **at(MAY_1, "1005"))
    state = hangar.book.state()
    assert latest_reading(state, "E1") == (MAY_2, Decimal(1010))
    assert (latest_hours(state, "E1"), latest_hours(state, "E2"), latest_hours(state, None)) == (
        Decimal(1010),
        None,
        None,
    )
    hangar.add("note", {"text": "again that day", "engine": "E1"}, **at(MAY_2, "1011"))
    assert latest_reading(hangar.book.state(), "E1") == (MAY_2, Decimal(1011))


def test_of_two_readings_on_one_day_the_later_one_counts_though_the_earlier_is_corrected_to_more(
    hangar: Desk,
) -> None:
    first = hangar.add("note", {"text": "first", "engine": "E1"}, **at(MAY_2, "1011"))
    hangar.add("note", {"text": "again", "engine": "E1"}, **at(MAY_2, "1012"))
    corrected: dict[str, Any] = {"supersedes": first.sequence, "reason": "misread"}
    hangar.add("note", {"text": "first", "engine": "E1"}, **corrected, **at(MAY_2, "1013"))
    assert latest_reading(hangar.book.state(), "E1") == (MAY_2, Decimal(1012))


def test_the_calendar_has_an_event_for_each_day_that_is_due_and_an_alarm_a_week_before(hangar: Desk) -> None:
    # RFC 5545, 3.6.1 and 3.6.6: an event of a whole day that takes no time, and an alarm that shows a text.
    hangar.add(
        "reminder", {"text": "look, then write", "due": "2031-06-01", "due_hours": "1100", "engine": "E1"}
    )
    lines = returns.calendar(hangar.book).decode().split("\r\n")
    assert lines[:3] + lines[-2:] == [
        "BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//leanwright//reminders//EN", "END:VCALENDAR", "",
    ]  # fmt: skip
    assert lines.count("BEGIN:VEVENT") == 9
    start = next(place for place, line in enumerate(lines) if line == "SUMMARY:look\\, then write") - 1
    assert sorted(lines[start : lines.index("END:VEVENT", start)]) == sorted(
        [
            "BEGIN:VEVENT",
            "SUMMARY:look\\, then write",
            "DTSTART;VALUE=DATE:20310601",
            "DTSTAMP:20310503T120000Z",
            f"UID:{NAME}-reminder-26@leanwright.invalid",
            "DESCRIPTION:Due 2031-06-01 or at 1100 h. Entry 26 of the book.",
            "TRANSP:TRANSPARENT",
            "BEGIN:VALARM",
            "ACTION:DISPLAY",
            "DESCRIPTION:look\\, then write",
            "TRIGGER:-P7D",
            "END:VALARM",
        ]
    )
