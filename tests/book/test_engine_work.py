"""What was done to an engine and when: from jobs, from work entered by itself, and nothing that nobody did."""

from datetime import date

from leanwright.book.engine_work import done_to
from leanwright.book.ledger import Ledger
from leanwright.workbench import records, standing
from leanwright.workbench.records import Said
from leanwright.workbench.work_file import KINDS, Work
from leanwright.workbench.work_of_book import work_of
from tests.book import job


def on(day: str, hours: str | None = None) -> Said:
    """Work done on a day."""
    return Said(by="Ada Example", worked=day, hours=hours)


def test_what_was_done_comes_in_the_order_of_the_work_whenever_it_was_entered(book: Ledger) -> None:
    job.begun(book)
    job.up_to(book, "thread-compound")
    records.add(book, "fuel-grade", {"engine": "E1", "grade": "100LL"}, on("2031-01-02"))
    records.add(book, "fuel-grade", {"engine": "E1", "grade": "UL94"}, on("2031-03-01"))
    records.add(
        book, "work", {"engine": "E1", "what": "egt-probe", "cylinders": [2], "text": "new probe"}, on("2031-02-01", "1000.5")
    )  # fmt: skip
    records.add(book, "work", {"engine": "E1", "what": "plug", "text": "all new plugs"}, on("2031-02-01"))
    found = done_to(book.state(), "E1")
    assert [(one.day.isoformat(), one.what, one.cylinders, one.text) for one in found] == [
        ("2031-02-01", "egt-probe", (2,), "new probe"),
        ("2031-02-01", "plug", (), "all new plugs"),
        ("2031-03-01", "fuel", (), "UL94"),
        ("2031-05-03", "nozzle", (3,), "Q7-104"),
    ]
    assert (str(found[0].hours), found[1].hours) == ("1000.5", None)
    assert book.entry(found[3].entry)[0].entry.kind == "fitting-step"
    assert work_of(book, "E1") == (
        Work(date(2031, 2, 1), "egt-probe", (2,)),
        Work(date(2031, 2, 1), "plug", ()),
        Work(date(2031, 3, 1), "fuel", ()),
        Work(date(2031, 5, 3), "nozzle", (3,)),
    )
    assert all(one.kind in KINDS for one in work_of(book, "E1"))


def test_the_book_knows_every_kind_of_work_that_the_watch_begins_anew_after(book: Ledger) -> None:
    job.hangar(book)
    for kind in KINDS:
        if kind != "fuel":
            records.add(book, "work", {"engine": "E1", "what": kind, "text": "done"}, on("2031-02-01"))
    assert {one.kind for one in work_of(book, "E1")} == set(KINDS) - {"fuel"}


def test_a_nozzle_found_in_place_or_work_taken_back_is_nobodys_work(book: Ledger) -> None:
    job.hangar(book)
    made = records.add(book, "work", {"engine": "E1", "what": "cleaning", "text": "soaked"}, job.ADA)
    assert [one.what for one in done_to(book.state(), "E1")] == ["cleaning"]
    records.void(book, made.sequence, "it was the other engine", job.ADA)
    assert done_to(book.state(), "E1") == ()
    assert done_to(book.state(), "no such engine") == ()


def test_work_on_a_cylinder_that_the_engine_has_not_got_is_refused(book: Ledger) -> None:
    job.hangar(book)
    body = {"engine": "E1", "what": "plug", "cylinders": [5], "text": "new"}
    assert job.refusal(book, lambda: records.add(book, "work", body)) == "no-such-cylinder"


def flown(book: Ledger, day: str, hours: str) -> None:
    """The hours that were read on a day."""
    records.add(book, "note", {"engine": "E1", "text": "flown"}, on(day, hours))


def found_in_first(book: Ledger, day: str, marking: str) -> None:
    """A nozzle that was found in cylinder 1; nobody told the hours."""
    body = {"engine": "E1", "cylinder": 1, "marking": marking, "source": "read"}
    records.add(book, "as-found", body, on(day))


def in_first(book: Ledger, hours: str) -> str | None:
    """The nozzle that was in cylinder 1 when the engine had so many hours."""
    return standing.engine_at(book, "E1", hours=hours)["fitted"][0]["marking"]  # type: ignore[no-any-return]  # plain data


def test_the_engine_is_shown_as_it_was_at_its_hours_though_most_entries_tell_none(book: Ledger) -> None:
    records.add(book, "engine", {"id": "E1", "cylinders": 4}, job.ADA)
    flown(book, "2031-04-01", "1000")
    found_in_first(book, "2031-04-02", "first")
    flown(book, "2031-04-03", "1010")
    found_in_first(book, "2031-04-04", "second")
    flown(book, "2031-04-05", "1020.5")
    asked = ("999", "1000", "1009.9", "1010", "1020.4", "1020.5", "5000")
    assert [in_first(book, hours) for hours in asked] == [
        None,
        "first",
        "first",
        "second",
        "second",
        "second",
        "second",
    ]


def test_hours_that_a_new_meter_shows_again_mean_the_later_time(book: Ledger) -> None:
    records.add(book, "engine", {"id": "E1", "cylinders": 4}, on("2031-03-01"))
    flown(book, "2031-04-01", "10")
    found_in_first(book, "2031-04-02", "first")
    flown(book, "2031-04-03", "1000")
    meter = {"id": "E1", "cylinders": 4, "new_meter": True}
    records.add(book, "engine", meter, on("2031-04-04", "0"))
    found_in_first(book, "2031-04-05", "second")
    flown(book, "2031-04-06", "20")
    assert [in_first(book, hours) for hours in ("15", "500")] == ["second", "second"]
    assert job.refusal(book, lambda: standing.engine_at(book, "E1", hours="many")) == "bad-hours"
