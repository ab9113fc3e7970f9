"""The draft of a maintenance record and its check, whole, under the rules of three places.

What is kept in ``record.txt`` was read against the rules that it cites when it was written: a regression test.
"""

from datetime import UTC, date, datetime
from typing import Any

import pytest

from leanwright.book import record_draft
from leanwright.book.kinds import work
from leanwright.book.ledger import Ledger
from leanwright.book.paper_rules import shown_digest
from leanwright.workbench import fit, records, release
from leanwright.workbench.records import Said
from tests.book import job
from tests.book.conftest import Desk
from tests.book.kept import kept

MAY_3 = date(2031, 5, 3)


@pytest.fixture
def book(quick_desk: Desk) -> Ledger:
    """A new book in memory."""
    return quick_desk.book


def drafted(
    book: Ledger, name: str = "J-1", /, by: str = "Ada Example", day: date = MAY_3, **more: Any
) -> int:
    """The number of a draft."""
    options = {key: more.pop(key) for key in ("rules", "wording") if key in more}
    return release.draft(
        book, name, completed=day, performed_by=by, more=more, said=job.ADA, **options
    ).sequence


def signed(book: Ledger, record: int, **more: Any) -> None:
    """Somebody signs a draft."""
    shown = shown_digest(release.checked(book, record)["text"])
    body: dict[str, Any] = {
        "certificate_number": "7654321",
        "certificate_kind": "mechanic",
        "meaning": "released",
        "shown_sha256": shown,
    }
    release.take_signature(book, record, {"name": "Bea Example", **body, **more}, job.BEA)


def items(book: Ledger, record: int, *numbers: int) -> list[str]:
    """The check of a record, an item a line; some of them only, if any are named."""
    return [
        " | ".join(
            filter(
                None,
                (f"{one['item']} {one['verdict']}", one["asks"], one["found"], one["rule"], one["text_of"]),
            )
        )
        for one in release.checked(book, record)["items"]
        if not numbers or one["item"] in numbers
    ]


def approved(book: Ledger, **approval: Any) -> None:
    """Correct the approval of the set."""
    newest = [one.entry.sequence for one, newer in book.entries("nozzle-set") if newer is None]
    whole: dict[str, Any] = {**job.SET, "approval": {"document": "PG-STC-9 (invented)", **approval}}
    records.correct(book, newest[-1], whole, "classified anew", job.ADA)


def fitted(book: Ledger) -> None:
    """The whole job, with a serial number, an extension, hours, a supplement and placards."""
    job.begun(book)
    approved(
        book,
        revision="B",
        permission_on_file=True,
        classification="minor",
        supplement="S-1",
        placards=["P-1", "P-2"],
    )
    job.step(book, "fuel-off")
    for cylinder in (3, 2):
        serial = {"serial": "20718"} if cylinder == 3 else {}
        job.steps(book, work.CYLINDER_STEPS[:3], cylinder)
        job.step(book, "marking-read", cylinder, **serial)
        job.steps(book, work.CYLINDER_STEPS[4:-1], cylinder)
    extension = {"lever": "10", "extension": "1", "unit": "in"}
    job.step(book, "nozzle-torqued", 2, reading="30", extension=extension)
    for cylinder in (2, 3):
        job.step(book, "looked-at-again", cylinder)
    job.steps(book, work.ENGINE_STEPS[1:])


def test_a_job_that_is_done_and_signed(book: Ledger) -> None:
    fitted(book)
    read = Said(by="Ada Example", worked="2031-05-02", hours="1200.5")
    records.add(book, "note", {"engine": "E1", "text": "read"}, read)
    record = drafted(book, weight_and_balance="no-change", check_flight="logged")
    assert release.checked(book, record)["text"].splitlines() == kept("record.txt", "the text, United States")
    assert items(book, record) == kept("record.txt", "done, not signed")
    signed(book, record)
    assert items(book, record) == kept("record.txt", "done and signed, United States")


@pytest.mark.parametrize(("rules", "place"), [("easa-part-ml", "Europe"), ("uk-part-ml", "United Kingdom")])
def test_a_job_under_the_rules_of_another_place(book: Ledger, rules: str, place: str) -> None:
    fitted(book)
    record = drafted(
        book,
        rules=rules,
        weight_and_balance="changed",
        check_flight="ground-test",
        check_flight_reason="full power",
    )
    text = release.checked(book, record)["text"].splitlines()
    american = kept("record.txt", "the text, United States")
    assert [line for line in text if line not in american] == kept("record.txt", f"the text, {place}")
    signed(book, record, certificate_kind="pilot-owner")
    assert items(book, record) == kept("record.txt", f"done and signed by the owner, {place}")


def test_a_job_of_which_little_is_known(book: Ledger) -> None:
    records.add(book, "engine", {"id": "E3", "cylinders": 3, "layout": "radial"}, job.ADA)
    plan = {"id": "J-3", "engine": "E3", "document": "SI", "revision": "A"}
    fit.begin(book, {**plan, "positions": [{"cylinder": 1, "marking": "Q"}]}, job.ADA)
    record = drafted(book, "J-3", book="aircraft", check_flight="not-needed")
    assert release.checked(book, record)["text"].splitlines() == kept("record.txt", "the text, little known")
    assert items(book, record) == kept("record.txt", "little known")
    fit.do_step(book, {"job": "J-3", "step": "fuel-off", "seen": "off"}, job.ADA)
    own = drafted(
        book, "J-3", by="Cleo Example", day=date(2031, 5, 2), wording="Done 2031-05-02.", book="propeller"
    )
    assert items(book, own, 1, 2, 3, 7, 8) == kept("record.txt", "little known, in the owner's own words")


def test_own_words_without_the_date_of_completion_are_told_which_date_is_missing(book: Ledger) -> None:
    job.begun(book)
    assert items(book, drafted(book, wording="Done on 3 May 2031."), 2) == [
        "2 missing | date of completion | 2031-05-03 is not in the text | 14 CFR 43.9(a)(2) | eCFR copy of 2026-08-24"
    ]


def test_what_the_check_finds_of_a_set_a_signer_a_flight_and_a_tool(book: Ledger) -> None:
    job.begun(book)
    found = []
    for approval in (
        {},
        {"classification": "major"},
        {"classification": "major", "form_date": "2031-05-01", "permission_on_file": True},
    ):
        approved(book, **approval)
        found += items(book, drafted(book), 6)
    job.step(book, "fuel-off")
    job.steps(book, work.CYLINDER_STEPS[:-1], 3)
    for more in ({"calibration_due": None}, {"calibrated": None}):
        tool = {
            "id": "TW-04",
            "low": "10",
            "high": "150",
            "unit": "in-lb",
            "calibrated": "2026-01-10",
            "calibration_due": "2035-01-09",
        }
        newest = [one.entry.sequence for one, newer in book.entries("tool") if newer is None]
        records.correct(book, newest[-1], {**tool, **more}, "papers", job.ADA)
        record = drafted(
            book, check_flight="not-needed", check_flight_reason="nothing that flies was touched"
        )
        found += items(book, record, 8, 9, 12, 14)
    job.steps(book, work.CYLINDER_STEPS[-1:], 3)
    job.steps(book, work.CYLINDER_STEPS[:7], 2)
    found += items(book, drafted(book, check_flight="ground-test"), 8, 12)
    assert found == kept("record.txt", "sets, flights, tools")


def test_what_the_check_finds_of_a_signer(book: Ledger) -> None:
    fitted(book)
    record = drafted(book, by="Bea Example")
    signed(book, record, meaning="performed")
    found = items(book, record, 4, 5, 11)
    signed(book, record, certificate_number="1")
    found += items(book, record, 3, 4, 5, 11)
    assert found == kept("record.txt", "a signer whose number is another")


@pytest.mark.parametrize(
    ("rules", "completed", "until"),
    [
        # 14 CFR 91.417(b)(1): 1 year after the work is performed; M.A.305(e): 36 months. A leap day makes none shorter.
        ("us-part-43", date(2030, 5, 3), "2031-05-03"),
        ("us-part-43", date(2028, 2, 29), "2029-03-01"),
        ("us-part-43", date(2027, 5, 3), "2028-05-03"),
        ("easa-part-ml", date(2027, 5, 3), "2030-05-03"),
        ("uk-part-ml", date(2029, 5, 3), "2032-05-03"),
    ],
)
def test_a_record_is_kept_for_whole_years(book: Ledger, rules: str, completed: date, until: str) -> None:
    job.begun(book)
    (item,) = items(book, drafted(book, day=completed, rules=rules), 10)
    assert f"at least until {until}." in item


def test_a_wrench_that_was_entered_later_is_named_without_its_dates(quick_desk: Desk) -> None:
    book = quick_desk.book
    quick_desk.clock.now = datetime(2031, 5, 1, 12, 0, tzinfo=UTC)
    job.begun(book)
    job.up_to(book, "nozzle-torqued")
    quick_desk.clock.now = datetime(2031, 5, 3, 12, 0, tzinfo=UTC)
    tool = {"id": "TW-05", "low": "10", "high": "150", "unit": "in-lb", "calibration_due": "2035-01-09"}
    records.add(book, "tool", tool, job.ADA)
    reading = {
        "job": "J-1",
        "step": "nozzle-torqued",
        "cylinder": 3,
        "reading": "33",
        "unit": "in-lb",
        "tool": "TW-05",
    }
    fit.read_torque(book, reading, Said(by="Ada Example", worked="2031-05-01"))
    before = book.state_at(day=date(2031, 5, 2))
    told = list(record_draft.work_lines(before, before.jobs["J-1"]))
    assert told[2] == "Cylinder 3 (front right): nozzle torqued, wrench TW-05 read 33 in-lb."


@pytest.mark.parametrize(
    ("left", "told"),
    [
        (1, "open: cowling"),
        (5, "open: look-after-run, placard, tools-counted, caps-counted, cowling"),
        (6, "6 steps open, the first: ground-run, look-after-run, placard, tools-counted, caps-counted"),
    ],
)
def test_five_open_steps_are_all_named_and_of_more_the_first_five(book: Ledger, left: int, told: str) -> None:
    job.begun(book)
    job.step(book, "fuel-off")
    for cylinder in (3, 2):
        job.steps(book, work.CYLINDER_STEPS, cylinder)
    job.steps(book, work.ENGINE_STEPS[1:-left])
    assert items(book, drafted(book), 12) == [f"12 missing | no step open | {told} | common practice"]


def test_an_aircraft_and_an_engine_without_a_serial_number_say_so_in_the_draft(book: Ledger) -> None:
    aircraft = {"id": "X-TEST", "type": "Hollowbrook Tarn (invented)"}
    for kind, body in (
        ("aircraft", aircraft),
        ("engine", {"id": "E1", "cylinders": 4, "aircraft": "X-TEST"}),
    ):
        records.add(book, kind, body, job.ADA)
    plan = {"id": "J-1", "engine": "E1", "document": "SI", "revision": "A"}
    fit.begin(book, {**plan, "positions": [{"cylinder": 1, "marking": "Q"}]}, job.ADA)
    assert release.checked(book, drafted(book))["text"].splitlines()[1:3] == [
        "Engine: E1, serial number (not entered)",
        "Aircraft: X-TEST, Hollowbrook Tarn (invented) serial number (not entered)",
    ]


@pytest.mark.parametrize("kind", ["pilot", "repairman"])
def test_what_the_check_finds_of_a_signer_who_is_not_in_the_book(book: Ledger, kind: str) -> None:
    fitted(book)
    record = drafted(book)
    signed(book, record, name="Cleo Example", certificate_kind=kind)
    assert items(book, record, 3, 4, 5) == kept("record.txt", f"signed by a {kind}")
